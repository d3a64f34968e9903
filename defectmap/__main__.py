"""Lets `python -m defectmap` do what the `defectmap` program does."""

from defectmap.commands.program import main

main()
