"""``filmstress history …``: the recorded lots.  One command, one file."""
