"""The steps that bring an older record up to date, in order, each in one transaction."""
