"""``filmstress history export``."""

from __future__ import annotations

from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import json_shown, show


def export(place: Place = None) -> None:
    """Print every entry as one line of JSON, oldest first; history import reads it."""
    from filmstress.history import upkeep

    with opened(place) as history:
        for line in upkeep.exported(history):
            show(json_shown(line))
