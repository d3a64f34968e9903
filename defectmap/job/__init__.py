"""The job: a record that loses nothing, the next step, and what the clear coat still allows.

A record is one folder (see `defectmap.job.store`); the rules of the trade are pure functions on frozen
records.
"""
