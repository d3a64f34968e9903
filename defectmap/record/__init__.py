"""What is kept: database, originals, results, corrections, export and import."""
