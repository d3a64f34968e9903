"""Codes in, sentences out, one module for each audience."""
