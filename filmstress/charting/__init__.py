"""Recorded lots of a recipe over time: points, control charts, signals, capability."""
