"""``filmstress history copy``."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import say, show


def copy(
    target: Annotated[
        str,
        typer.Argument(metavar="PATH|URL", help="A new file, or an empty database on a server."),
    ],
    place: Place = None,
) -> None:
    """Copy the history as it stands at one moment, also while it is in use."""
    from filmstress.history import upkeep
    from filmstress.history.store import shown

    with opened(place) as history:
        lots = upkeep.copy(history, target)
    say(f"{lots} lots copied")
    show(shown(target))
