"""``filmstress history wafers``."""

from __future__ import annotations

from filmstress.cli.checks import Json, only_one
from filmstress.cli.history.options import (
    Csv,
    Last,
    Lot,
    Place,
    Recipe,
    Since,
    Superseded,
    Tool,
    Until,
    Wafer,
    choice_data,
    choice_of,
    opened,
)
from filmstress.cli.output import show, show_csv, show_json


def wafers(
    recipe: Recipe = "",
    lot: Lot = "",
    wafer: Wafer = "",
    tool: Tool = "",
    since: Since = "",
    until: Until = "",
    last: Last = None,
    superseded: Superseded = False,
    place: Place = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """List recorded wafers in the order of time, each with its stress."""
    from filmstress.history.questions import wafers as ask
    from filmstress.report import history as words
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    choice = choice_of(
        recipe=recipe,
        lot=lot,
        wafer=wafer,
        tool=tool,
        since=since,
        until=until,
        last=last,
        superseded=superseded,
    )
    with opened(place) as history:
        found = ask(history, choice)
    if json:
        show_json(words.wafers_data(found, VERSION), choice_data(choice, history.place))
    elif csv:
        show_csv(words.WAFER_HEADS, words.wafer_rows(found))
    else:
        show(words.wafers_text(found))
