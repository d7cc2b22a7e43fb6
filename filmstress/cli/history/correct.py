"""``filmstress history correct``."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import say


def correct(
    entry: Annotated[int, typer.Argument(metavar="ENTRY", help="The number to correct.")],
    record: Annotated[
        str, typer.Argument(metavar="RECORD", help="Record of the lot, measured again.")
    ],
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="The reason.")] = "",
    place: Place = None,
) -> None:
    """Let a new record count in place of an entry, which stays with the reason."""
    from filmstress.cli.history.files import bytes_of
    from filmstress.errors import HistoryError
    from filmstress.history import upkeep
    from filmstress.history.writing import keep
    from filmstress.lots.record.canonical import parsed

    raw = bytes_of(record)
    try:
        lot = upkeep.kept_record(parsed(raw))
    except (ValueError, KeyError, TypeError) as error:
        raise HistoryError(
            "is no record of a lot", where=record, hint="filmstress lot LOT.toml --record"
        ) from error
    with opened(place) as history:
        number = keep(history, lot, supersedes=entry, why=why)
    say(f"entry {number} counts in place of entry {entry}")
