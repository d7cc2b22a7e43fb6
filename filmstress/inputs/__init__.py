"""From texts to a wafer: one table of keys for command line, Python, lot file and table."""
