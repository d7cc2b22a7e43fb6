"""A layer whose stress is that of a recorded recipe: what it asks for, and what that gives."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from filmstress.errors import RefusedInput
from filmstress.inputs.builder import Builder
from filmstress.inputs.keys import keys_of
from filmstress.inputs.readers import read_text, shown
from filmstress.inputs.settings import RIVALS, Setting, Settings
from filmstress.records.stack import RecipeAsked, Recorded

History = Callable[[RecipeAsked], Recorded]
"""What tells of a recipe's next wafer; it raises a RefusedInput where it cannot."""

KEYS = ("recipe", "lots", "since", "until")


def read_recorded(
    values: Mapping[str, object], build: Builder, where: str, history: History | None
) -> Recorded | None:
    """What the history tells of the recipe that a layer names; faults are kept.

    Parameters
    ----------
    values : mapping
        The layer's keys as parsed, one of ``KEYS`` among them.
    build : Builder
        Receives the faults.
    where : str
        Place of the layer, for messages.
    history : callable or None
        None where there is none to ask.
    """
    if "recipe" not in values:
        key = next(key for key in KEYS if key in values)
        build.fault(
            f"'{key}' speaks of the lots of a recipe, and none is named",
            'write  recipe = "nitride-low-stress"  beside it',
            f"{where}.{key}",
        )
        return None
    if "stress" in values:
        build.fault(
            "the layer states its stress, and names a recipe to take it from",
            "keep the one or the other",
            f"{where}.recipe",
        )
        return None
    try:
        asked = _asked(values, where)
        if history is None:
            raise RefusedInput(
                "a recipe is named, and there is no history to look it up in",
                hint="state the layer's stress, or give a history",
            )
        return history(asked)
    except RefusedInput as error:
        place = error.where or f"{where}.recipe"
        if not place.startswith(where):
            place = f"{where}.recipe, {place}"
        build.fault(error.message, error.hint, place)
        return None


def fill_film(
    settings: Settings, recorded: Recorded, where: str, shared_by: str, *, thickness: bool
) -> None:
    """Take what the layer does not state of its film from the history.

    ``thickness`` says whether that is wanted too; ``shared_by`` is as in `Setting`.
    """
    stated = frozenset(settings.film)
    for name, measured in recorded.film.items():
        rivals = RIVALS["film"].get(name, frozenset())
        if name in stated or rivals & stated or (name == "thickness" and not thickness):
            continue
        settings.put(Setting(keys_of("film")[name], measured, f"{where}.recipe", shared_by))


def _asked(values: Mapping[str, object], where: str) -> RecipeAsked:
    place = f"{where}.recipe"
    recipe = read_text(values["recipe"], where=place, example="nitride-low-stress")
    lots = values.get("lots", [])
    if not isinstance(lots, list) or ("lots" in values and not lots):
        raise RefusedInput(
            f"{shown(lots)} came, a list of lots is wanted",
            where=f"{where}.lots",
            hint='write  lots = ["K7-0412", "K7-0413"]',
        )
    names = tuple(read_text(one, where=f"{where}.lots", example="K7-0412") for one in lots)
    since, until = (
        _day(values[key], f"{where}.{key}") if key in values else "" for key in ("since", "until")
    )
    return RecipeAsked(recipe, names, since, until)


def _day(raw: object, where: str) -> str:
    text = read_text(raw, where=where, example="2026-03-14", wanted="a date")
    try:
        datetime.fromisoformat(text)
    except ValueError:
        raise RefusedInput(
            f"'{text}' is no date", where=where, hint="write 2026-03-14, or 2026-03-14T09:30"
        ) from None
    return text
