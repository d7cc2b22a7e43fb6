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
    import json
    from pathlib import Path

    from filmstress.errors import HistoryError
    from filmstress.history import upkeep
    from filmstress.history.writing import keep

    try:
        data = json.loads(Path(record).read_text(encoding="utf-8"))
        lot = upkeep.kept_record(data)
    except OSError as error:
        raise HistoryError(f"cannot be read: {error.strerror}", where=record) from error
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise HistoryError(
            "is no record of a lot", where=record, hint="filmstress lot LOT.toml --record"
        ) from error
    with opened(place) as history:
        number = keep(history, lot, supersedes=entry, why=why)
    say(f"entry {number} counts in place of entry {entry}")
