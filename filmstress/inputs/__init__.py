"""From texts to a wafer: one table of keys serves command line, Python, lot file and wafer table."""
