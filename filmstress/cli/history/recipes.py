"""``filmstress history recipes``."""

from __future__ import annotations

from filmstress.cli.checks import Json, only_one
from filmstress.cli.history.options import Csv, Place, opened
from filmstress.cli.output import show, show_csv, show_json


def recipes(place: Place = None, json: Json = False, csv: Csv = False) -> None:
    """List every recipe: how many lots, from when to when."""
    from filmstress.history.questions import recipes as ask
    from filmstress.report import history as words
    from filmstress.report.quantities import headed
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    with opened(place) as history:
        found = ask(history)
    if json:
        rows = [dict(zip(words.RECIPE_HEADS, row, strict=True)) for row in found]
        show_json(
            {**headed("history-recipes", VERSION), "recipes": rows}, {"history": history.place}
        )
    elif csv:
        show_csv(words.RECIPE_HEADS, found)
    else:
        show(words.recipes_text(found))
