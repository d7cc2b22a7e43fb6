"""Selections of the history for a comparison: written, read, and made independent values of."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from filmstress.errors import HistoryError, UsageError
from filmstress.history.counting import counted_wafers
from filmstress.history.questions import Choice, recipes
from filmstress.history.store import History
from filmstress.history.terms import within_a_lot
from filmstress.inputs.names import nearest
from filmstress.records.budget import Term
from filmstress.records.comparison import Per, Selected
from filmstress.records.history import Found

_HINT = "write a recipe, recipe@lot, lot:NAME or tool:NAME; filmstress history recipes lists them"
_STATED = "stated substrate constants"


def read_selection(text: str, known: Sequence[str], within: Choice) -> Choice:
    """What a selection asks for: ``recipe``, ``recipe@lot``, ``lot:NAME`` or ``tool:NAME``.

    Parameters
    ----------
    text : str
    known : sequence of str
        Names of recipes; one that looks like another form is taken as the recipe.
    within : Choice
        Times that hold for all selections.
    """
    if text in known:
        return replace(within, recipe=text)
    if text.startswith("lot:"):
        return replace(within, lot=text.removeprefix("lot:"))
    if text.startswith("tool:"):
        return replace(within, tool=text.removeprefix("tool:"))
    recipe, at, lot = text.rpartition("@")
    if at and recipe and lot:
        return replace(within, recipe=recipe, lot=lot)
    return replace(within, recipe=text)


def check_recipe(history: History, recipe: str) -> None:
    """Refuse a recipe of which nothing is recorded.

    Raises
    ------
    HistoryError
        With the nearest name that is.
    """
    known = [name for name, *_ in recipes(history) if name]
    if recipe not in known:
        hint = nearest(recipe, known) if known else "filmstress lot LOT.toml --record"
        raise HistoryError(
            f"no lot of the recipe '{recipe}' is recorded", where=history.place, hint=hint
        )


def select(history: History, texts: Sequence[str], within: Choice) -> list[Selected]:
    """Independent values of every selection.

    The values are means of lots.  Where every selection is one lot they are its wafers: that
    compares those lots, and says nothing of other lots of their recipes.

    Raises
    ------
    UsageError
        Two selections are written alike.
    HistoryError
        A selection holds no stress, or two hold the same lot.
    """
    if len(set(texts)) < len(texts):
        raise UsageError("a selection is named twice", where=" ".join(texts), hint=_HINT)
    known = [name for name, *_ in recipes(history)]
    found, passed = [], []
    for text in texts:
        if not text.removeprefix("lot:").removeprefix("tool:"):
            raise UsageError("a selection is empty", hint=_HINT)
        rows, again = counted_wafers(history, read_selection(text, known, within))
        rows = [row for row in rows if row.wafer.role == "product"]
        if not any(row.wafer.stress is not None for row in rows):
            told = "fits no wafer" if not rows else "fits only wafers without a stress"
            raise HistoryError(f"'{text}' {told}", where=history.place, hint=_HINT)
        found.append(rows)
        passed.append(again)
    held = [_entries(rows) for rows in found]
    for i, entries in enumerate(held):
        for j in range(i):
            if shared := set(entries) & set(held[j]):
                raise HistoryError(
                    f"'{texts[j]}' and '{texts[i]}' both hold entry {min(shared)}: what is compared"
                    " must be different lots",
                    where=history.place,
                    hint=_HINT,
                )
    per: Per = "wafer" if all(len(entries) == 1 for entries in held) else "lot"
    return [
        selected(text, rows, per, again)
        for text, rows, again in zip(texts, found, passed, strict=True)
    ]


def selected(name: str, rows: Sequence[Found], per: Per, again: tuple[int, ...] = ()) -> Selected:
    """Values of one selection with their budgets.

    Witnesses are no product of the recipe: they are passed over.
    """
    rows = [row for row in rows if row.wafer.role == "product"]
    told = [row for row in rows if row.wafer.stress is not None]
    groups = [[row] for row in told]
    if per == "lot":
        groups = [[row for row in told if row.number == entry] for entry in _entries(told)]
    names = Counter(row.lot for row in (one[0] for one in groups))
    return Selected(
        name=name,
        per=per,
        values=tuple(sum(row.wafer.stress or 0.0 for row in one) / len(one) for one in groups),
        labels=tuple(_label(one[0], per, names) for one in groups),
        terms=tuple(mean_terms(one) for one in groups),
        entries=_entries(told),
        wafers=len(told),
        without=len(rows) - len(told),
        again=again,
    )


def mean_terms(rows: Sequence[Found]) -> tuple[Term, ...]:
    """Budget terms of the mean stress of some wafers of one lot.

    What one wafer has alone bears its name and its lot's number: a wafer 1 is in every lot.
    """
    return tuple(
        replace(
            term,
            sensitivity=term.sensitivity / len(rows),
            common_to=_known_as(term, row.number, row.wafer.wafer),
        )
        for row in rows
        for term in row.wafer.terms
    )


def _known_as(term: Term, entry: int, wafer: str) -> str:
    """Name of the thing that shares an input, good beyond its lot.

    The gauge, the tables and the theory are the same for all lots; what belongs to a wafer, a lot
    or a scan is not, though it may bear the same name.
    """
    common = term.common_to or f"wafer {wafer}"
    if common == _STATED:
        return f"{common}, {term.value:g} {term.unit}".rstrip()
    if within_a_lot(common):
        return f"{common}, entry {entry}"
    return common


def _entries(rows: Sequence[Found]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(row.number for row in rows))


def _label(row: Found, per: Per, names: Counter[str]) -> str:
    if per == "wafer":
        return row.wafer.wafer
    return row.lot if names[row.lot] == 1 else f"{row.lot} (entry {row.number})"
