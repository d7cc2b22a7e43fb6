"""What the recorded lots of a recipe tell of its next wafer."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from filmstress.errors import HistoryError, RefusedInput
from filmstress.history.counting import counted_wafers
from filmstress.history.questions import Choice, document
from filmstress.history.selecting import check_recipe, selected
from filmstress.history.store import History
from filmstress.inputs.names import nearest
from filmstress.records.budget import Term
from filmstress.records.history import Found
from filmstress.records.quantity import Measured, Source
from filmstress.records.stack import RecipeAsked, Recorded
from filmstress.stats.budget import combine
from filmstress.stats.next_value import NextValue, next_value
from filmstress.stats.shared_terms import split_terms

_CONSTANTS = ("modulus", "youngs_modulus", "poisson_ratio")
_READ_AS = "from the history"


def next_wafer(history: History, asked: RecipeAsked) -> Recorded:
    """Stress of a recipe's next wafer, of a lot that is yet to come.

    Parameters
    ----------
    history : History
    asked : RecipeAsked

    Raises
    ------
    HistoryError
        The recipe or a lot is not recorded, or fewer than two lots with a stress are: how lots
        scatter is then not known.

    Notes
    -----
    The uncertainty is that of one more wafer, not that of the mean: lots and wafers scatter
    (`filmstress.stats.next_value`), and what all measurements share (a gauge's scale, a table's
    modulus) is added in full.  The scatter of the measurements themselves is in that of the wafers.
    """
    rows = _rows(history, asked)
    chosen = selected(asked.recipe, rows, "lot")
    told = [row for row in rows if row.wafer.stress is not None]
    if not chosen.entries:
        raise HistoryError(
            f"no wafer of '{asked.recipe}' carries a stress in the lots asked for",
            where=history.place,
            hint=f'filmstress history wafers --recipe "{asked.recipe}"',
        )
    if len(chosen.entries) < 2:
        mean = chosen.values[0] / 1e6
        raise HistoryError(
            f"'{asked.recipe}' has one lot there, '{told[0].lot}': how lots scatter is not known,"
            " and so neither how sure the next wafer is",
            where=history.place,
            hint=f"record another lot, or state the stress: its mean is {mean:.4g} MPa",
        )
    try:
        found = next_value([_values(told, entry) for entry in chosen.entries])
    except RefusedInput as error:
        raise HistoryError(error.message, where=f"recipe {asked.recipe}", hint=error.hint) from None
    count = len(chosen.entries)
    weights = np.full(count, 1.0 / count)
    terms = (
        *_scatter(asked.recipe, found),
        *(one.on(weights) for one in split_terms(chosen.terms).shared),
    )
    budget = combine(terms)
    return Recorded(
        asked=asked,
        stress=Measured(
            found.value, "Pa", budget.u, budget.dof, read_as=_READ_AS, source=Source.DATA
        ),
        terms=terms,
        lots=tuple(dict.fromkeys(row.lot for row in told)),
        wafers=len(told),
        spread=found.spread,
        within=found.within,
        film=dict(_film(history, told)),
    )


def _rows(history: History, asked: RecipeAsked) -> list[Found]:
    """Wafers of the recipe, of the lots and times asked for."""
    check_recipe(history, asked.recipe)
    choice = Choice(recipe=asked.recipe, since=asked.since, until=asked.until)
    rows, _ = counted_wafers(history, choice)
    if not rows:
        raise HistoryError(
            f"no lot of '{asked.recipe}' was made in the time asked for",
            where=history.place,
            hint="leave out since and until, or see: filmstress history lots",
        )
    names = list(dict.fromkeys(row.lot for row in rows))
    for lot in asked.lots:
        if lot not in names:
            raise HistoryError(
                f"'{asked.recipe}' has no lot '{lot}' there",
                where=history.place,
                hint=nearest(lot, names),
            )
    return [
        row
        for row in rows
        if row.wafer.role == "product" and (not asked.lots or row.lot in asked.lots)
    ]


def _values(rows: Sequence[Found], entry: int) -> list[float]:
    return [
        row.wafer.stress for row in rows if row.number == entry and row.wafer.stress is not None
    ]


def _scatter(recipe: str, found: NextValue) -> Iterator[Term]:
    """The recipe's mean, which its layers share, and what each layer departs from it."""
    for name, u, shared in (
        (f"mean of {recipe}", found.mean_u, f"history of {recipe}"),
        (f"scatter of {recipe}", found.spread, ""),
    ):
        yield Term(
            input=name,
            value=found.value,
            unit="Pa",
            u=u,
            sensitivity=1.0,
            dof=found.dof_of_either,
            evaluation="A",
            common_to=shared,
            source=Source.DATA,
        )


def _film(history: History, rows: Sequence[Found]) -> Iterator[tuple[str, Measured]]:
    """Thickness over all wafers, and the constants that the latest lot states."""
    latest = rows[-1].number
    films = [
        one["inputs"]["film"]
        for one in json.loads(document(history, latest))["wafers"]
        if one["stress"] is not None
    ]
    thick = [row.wafer.film_thickness for row in rows if row.wafer.film_thickness is not None]
    if thick:
        stated = [_read(film.get("thickness")) for film in films]
        square = np.mean([(one.u or 0.0) ** 2 for one in stated if one] or [0.0])
        # Of one more wafer, and of the mean that it is foretold by.
        count = len(thick)
        scatter = float(np.var(thick, ddof=1)) * (1.0 + 1.0 / count) if count > 1 else 0.0
        variance = scatter + float(square)
        dof = (count - 1) * (variance / scatter) ** 2 if scatter > 0.0 else math.inf
        yield (
            "thickness",
            Measured(
                float(np.mean(thick)),
                "m",
                math.sqrt(variance),
                dof,
                read_as=_READ_AS,
                source=Source.DATA,
            ),
        )
    for name in _CONSTANTS:
        stated = [_read(film.get(name)) for film in films]
        if films and (first := stated[0]) is not None:
            yield name, first


def _read(quantity: Mapping[str, Any] | None) -> Measured | None:
    """A quantity of a lot's JSON."""
    if quantity is None:
        return None
    u, dof = quantity["standard_uncertainty"], quantity["degrees_of_freedom"]
    return Measured(
        float(quantity["value"]),
        str(quantity["unit"]),
        None if u is None else float(u),
        math.inf if dof is None else float(dof),
        read_as=_READ_AS,
    )
