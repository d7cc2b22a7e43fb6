"""``filmstress history show``."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import show_json


def show(
    entry: Annotated[int, typer.Argument(metavar="ENTRY", help="Its number in the lists.")],
    place: Place = None,
) -> None:
    """Print the whole result of one entry as it was recorded: one JSON object."""
    import json

    from filmstress.history.questions import document

    with opened(place) as history:
        text = document(history, entry)
    show_json(json.loads(text))
