"""Options that the commands of the history share."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from filmstress.history.questions import Choice
    from filmstress.history.store import History

_CHOICE = "Which"

Place = Annotated[
    str | None,
    typer.Option(
        "--history",
        metavar="PATH|URL",
        help="Where the history stands; by default FILMSTRESS_HISTORY, or a file in the user's "
        "data folder.",
    ),
]
Csv = Annotated[bool, typer.Option("--csv", help="A table, SI units.")]


def _named(flag: str, metavar: str, text: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(
        flag, metavar=metavar, help=text, rich_help_panel=_CHOICE
    )
    return option


Recipe = Annotated[str, _named("--recipe", "NAME", "Of this recipe.")]
Lot = Annotated[str, _named("--lot", "NAME", "Of this lot.")]
Wafer = Annotated[str, _named("--wafer", "ID", "Wafers of this id.")]
Tool = Annotated[str, _named("--tool", "NAME", "Made on this tool.")]
Since = Annotated[str, _named("--since", "DATE", "From this day on: 2026-03-14.")]
Until = Annotated[str, _named("--until", "DATE", "Up to this day, which is included.")]
Last = Annotated[
    int | None,
    typer.Option("--last", metavar="N", min=1, help="Only the latest N.", rich_help_panel=_CHOICE),
]
Superseded = Annotated[
    bool,
    typer.Option("--superseded", help="Also entries that were corrected.", rich_help_panel=_CHOICE),
]


def choice_data(choice: Choice, place: str | None) -> dict[str, object]:
    """A choice, and the history that it was asked of, for JSON; null is no restriction."""
    from dataclasses import asdict

    return {"history": place, **{name: one or None for name, one in asdict(choice).items()}}


@contextmanager
def opened(place: str | None, *, create: bool = False) -> Iterator[History]:
    """The history, opened and closed again."""
    from filmstress.history.store import open_history

    history = open_history(place, create=create)
    try:
        yield history
    finally:
        history.close()


def choice_of(
    *,
    recipe: str = "",
    lot: str = "",
    wafer: str = "",
    tool: str = "",
    since: str = "",
    until: str = "",
    last: int | None = None,
    superseded: bool = False,
) -> Choice:
    """The choice that the options make.

    Raises
    ------
    UsageError
        A day that is none.
    """
    from datetime import datetime

    from filmstress.errors import UsageError
    from filmstress.history.questions import Choice

    for flag, day in (("--since", since), ("--until", until)):
        try:
            if day:
                datetime.fromisoformat(day)
        except ValueError:
            raise UsageError(
                f"'{day}' is no date", where=flag, hint="write 2026-03-14, or 2026-03-14T09:30"
            ) from None
    return Choice(
        recipe=recipe,
        lot=lot,
        wafer=wafer,
        tool=tool,
        since=since,
        until=until,
        last=last,
        superseded=superseded,
    )
