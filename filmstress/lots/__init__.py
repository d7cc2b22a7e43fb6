"""Lots: the lot file, measuring its wafers, the decision."""
