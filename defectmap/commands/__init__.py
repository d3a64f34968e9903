"""The command line: `program` is the door, one file for each group of commands."""
