"""The report: one content, and every form it is given in."""
