"""Frozen shapes that cross rooms; each is imported from the file that owns it."""
