"""``filmstress history import``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated, Any

import typer

from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import say


def import_(
    files: Annotated[
        list[str],
        typer.Argument(
            metavar="FILE...", help="Records of lots, or exports of a history; - for stdin."
        ),
    ],
    place: Place = None,
) -> None:
    """Append what is not there yet; the same record is never kept twice."""
    from filmstress.history import upkeep

    with opened(place, create=True) as history:
        new = upkeep.imported(history, _entries(files))
    say(f"{new} new entries")


def _entries(files: Sequence[str]) -> Iterator[tuple[str, Any]]:
    from filmstress.cli.history.files import bytes_of
    from filmstress.errors import HistoryError
    from filmstress.lots.record.canonical import parsed

    for name in files:
        raw = bytes_of(name)
        try:
            # A record is one object over many lines.
            yield name, parsed(raw)
            continue
        except ValueError:
            pass
        for number, line in enumerate(raw.splitlines(), start=1):
            if line.strip():
                try:
                    data = parsed(line)
                except ValueError as error:
                    raise HistoryError("is no JSON", where=f"{name}, line {number}") from error
                yield f"{name}, line {number}", data
