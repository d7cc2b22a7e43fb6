"""``filmstress history where``."""

from __future__ import annotations

from filmstress.cli.history.options import Place
from filmstress.cli.output import show


def where(place: Place = None) -> None:
    """Print where the history stands, whether or not there is one yet."""
    from filmstress.history.store import default_place, shown

    show(shown(place or default_place()))
