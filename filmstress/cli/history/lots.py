"""``filmstress history lots``."""

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
    choice_data,
    choice_of,
    opened,
)
from filmstress.cli.output import show, show_csv, show_json


def lots(
    recipe: Recipe = "",
    lot: Lot = "",
    tool: Tool = "",
    since: Since = "",
    until: Until = "",
    last: Last = None,
    superseded: Superseded = False,
    place: Place = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """List recorded lots in the order of time, each with its decision."""
    from filmstress.history.questions import lots as ask
    from filmstress.report import history as words
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    choice = choice_of(
        recipe=recipe,
        lot=lot,
        tool=tool,
        since=since,
        until=until,
        last=last,
        superseded=superseded,
    )
    with opened(place) as history:
        found = ask(history, choice)
    if json:
        show_json(words.lots_data(found, VERSION), choice_data(choice, history.place))
    elif csv:
        show_csv(words.LOT_HEADS, words.lot_rows(found))
    else:
        show(words.lots_text(found))
