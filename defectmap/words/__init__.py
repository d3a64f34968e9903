"""Codes in, sentences out, one module a subject."""
