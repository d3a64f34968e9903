"""A photograph in, a measurement out: pure. `measure` is the chain, `tuning` holds its constants."""
