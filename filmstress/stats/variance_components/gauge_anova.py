"""A balanced study of a gauge, by analysis of variance."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput
from filmstress.stats.variance_components.gauge_records import (
    INTERACTION,
    OPERATOR,
    PART,
    REPEAT,
    GaugeStudy,
    found_study,
)
from filmstress.stats.variance_components.mean_squares import component, interval
from filmstress.stats.variance_components.records import Component, MeanSquare, Method

Floats = NDArray[np.float64]

# What rounding leaves of a sum of squares that is 0, relative to the others.
_CRUMBS = 1e-24


def crossed_study(data: Floats, *, pool_above: float, p: float) -> GaugeStudy:
    """Every operator measured every part equally often.

    Parameters
    ----------
    data : ndarray, shape (parts, operators, repeats)
        At least two parts and two operators.  From one repeat the interaction cannot be told from
        the repeatability, and is counted there.
    pool_above : float
        The interaction is counted there, too, where its p-value lies above this.
    p : float
        Coverage probability of the intervals.
    """
    from scipy.special import fdtrc

    a, b, r = data.shape
    grand, of_part, of_operator = data.mean(), data.mean(axis=(1, 2)), data.mean(axis=(0, 2))
    cell = data.mean(axis=2)
    apart = float(((cell - of_part[:, None] - of_operator + grand) ** 2).sum()) * r
    within = float(((data - cell[:, :, None]) ** 2).sum())
    dof, rest = (a - 1) * (b - 1), a * b * (r - 1)
    if rest and not within > 0.0:
        raise no_scatter()
    interaction_p = float(fdtrc(dof, rest, (apart / dof) / (within / rest))) if rest else None
    pooled = interaction_p is not None and interaction_p > pool_above
    of_parts = b * r * float(((of_part - grand) ** 2).sum())
    of_operators = a * r * float(((of_operator - grand) ** 2).sum())
    if pooled or not rest:
        names = [PART, OPERATOR, REPEAT]
        rows = [
            MeanSquare(PART, of_parts, a - 1, (b * r, 0.0, 1.0)),
            MeanSquare(OPERATOR, of_operators, b - 1, (0.0, a * r, 1.0)),
        ]
        within, rest = within + apart, rest + dof
    else:
        names = [PART, OPERATOR, INTERACTION, REPEAT]
        rows = [
            MeanSquare(PART, of_parts, a - 1, (b * r, 0.0, r, 1.0)),
            MeanSquare(OPERATOR, of_operators, b - 1, (0.0, a * r, r, 1.0)),
            MeanSquare(INTERACTION, apart, dof, (0.0, 0.0, r, 1.0)),
        ]
    rows.append(MeanSquare(REPEAT, within, rest, (*(0.0,) * (len(names) - 1), 1.0)))
    return study_of_table(
        tuple(rows),
        names,
        interaction_p=interaction_p,
        pooled=pooled,
        inseparable=interaction_p is None,
        p=p,
    )


def no_scatter() -> RefusedInput:
    """The refusal of repeats that never differ."""
    return RefusedInput(
        "repeats of a part never differ: the gauge's scatter hides below its last digit",
        hint="take more digits of the values",
    )


def check_scatter(table: Sequence[MeanSquare]) -> None:
    """Refuse a table whose last row, the repeats, holds nothing.

    Raises
    ------
    RefusedInput
        If repeats never differ.
    """
    if not table[-1].sum_of_squares > _CRUMBS * sum(row.sum_of_squares for row in table):
        raise no_scatter()


def study_of_table(
    table: tuple[MeanSquare, ...],
    names: Sequence[str],
    *,
    p: float,
    interaction_p: float | None = None,
    pooled: bool = False,
    inseparable: bool = False,
) -> GaugeStudy:
    """The study that independent mean squares make, one for each of the names, the repeats' last.

    Raises
    ------
    RefusedInput
        If repeats never differ.
    """
    check_scatter(table)
    inverse = np.linalg.inv(np.array([row.expected for row in table]))
    parted = {
        name: component(name, row, table, p=p) for name, row in zip(names, inverse, strict=True)
    }

    def sum_of(chosen: Sequence[int]) -> Callable[[Sequence[Floats]], Floats]:
        # A negative component counts as 0 in a sum as well.
        return lambda draws: np.asarray(
            sum(np.maximum(np.tensordot(inverse[i], np.stack(draws), axes=1), 0.0) for i in chosen)
        )

    every = range(len(names))
    of_gauge = [i for i in every if names[i] != PART]
    gauge = _sum("gauge", [names[i] for i in of_gauge], parted, table, sum_of(of_gauge), p)
    total = _sum("total", names, parted, table, sum_of(every), p)

    def share(draws: Sequence[Floats]) -> Floats:
        return 100.0 * np.sqrt(sum_of(of_gauge)(draws) / sum_of(every)(draws))

    return found_study(
        parted,
        gauge,
        total,
        interval(table, share, p=p) if PART in names else None,
        method=Method.ANOVA,
        p=p,
        table=table,
        interaction_p=interaction_p,
        pooled=pooled,
        inseparable=inseparable,
    )


def _sum(
    name: str,
    members: Sequence[str],
    parted: dict[str, Component],
    table: Sequence[MeanSquare],
    draws: Callable[[Sequence[Floats]], Floats],
    p: float,
) -> Component:
    variance = sum(parted[one].variance for one in members)
    low, high = interval(table, draws, p=p)
    # To first order from the squared standard errors of its members.
    lost = sum(parted[one].variance ** 2 / parted[one].dof for one in members if parted[one].dof)
    return Component(name, variance, variance, low, high, variance**2 / lost)
