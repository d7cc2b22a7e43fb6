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
    import json
    import sys
    from pathlib import Path

    from filmstress.errors import HistoryError

    for name in files:
        try:
            text = sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8")
        except OSError as error:
            raise HistoryError(f"cannot be read: {error.strerror}", where=name) from error
        except UnicodeDecodeError as error:
            raise HistoryError("is no text in UTF-8", where=name) from error
        try:
            # A record is one object over many lines.
            yield name, json.loads(text)
            continue
        except (json.JSONDecodeError, RecursionError):
            pass
        for number, line in enumerate(text.splitlines(), start=1):
            if line.strip():
                try:
                    data = json.loads(line)
                except (json.JSONDecodeError, RecursionError) as error:
                    raise HistoryError("is no JSON", where=f"{name}, line {number}") from error
                yield f"{name}, line {number}", data
