"""Measurements in, change with its interval or reasons out: `compare` is the chain."""
