"""Lets `python -m defectmap` do what the `defectmap` program does."""

from defectmap.cli import main

main()
