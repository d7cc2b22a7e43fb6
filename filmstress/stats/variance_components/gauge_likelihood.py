"""A study of a gauge with unequal numbers, by restricted maximum likelihood."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.variance_components.gauge_anova import check_scatter, study_of_table
from filmstress.stats.variance_components.gauge_records import (
    INTERACTION,
    OPERATOR,
    PART,
    REPEAT,
    GaugeStudy,
    found_study,
)
from filmstress.stats.variance_components.likelihood import reml_fit
from filmstress.stats.variance_components.records import Component, MeanSquare, Method

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]

# Of variances; beyond it matrices lose the digits that the repeats are in.
_FAR = 1e6


def likelihood_study(
    y: Floats, groupings: Mapping[str, Labels], *, crossed: bool, pool_above: float, p: float
) -> GaugeStudy:
    """Components of greatest restricted likelihood, with intervals by mean squares.

    Parameters
    ----------
    y : ndarray, shape (n,)
    groupings : mapping of str to ndarray of int
        Number of the group of each value in each grouping, by the name of its component; nested
        ones outermost first.
    crossed : bool
        Whether the operators are the same for all parts.
    pool_above : float
        An interaction is counted as repeatability where its p-value lies above this.
    p : float
        Coverage probability of the intervals.

    Notes
    -----
    Standard errors of so few groups make poor intervals.  Those given are the generalised ones of
    the mean squares by fitting constants, each taken as a chi-square with its degrees of freedom:
    exact for the repeatability, and close for the others where numbers are not too unequal.  They
    are stretched to the estimate in the rare case that it lies outside.

    References
    ----------
    C. R. Henderson, Biometrics 9 (1953) 226, doi:10.2307/3001853 (method 3).
    """
    from scipy.special import fdtrc

    names = [*groupings]
    table = _table(y, groupings, crossed=crossed)
    check_scatter(table)
    interaction_p, pooled = None, False
    if INTERACTION in groupings:
        apart, rest = table[-2], table[-1]
        ratio = apart.mean_square / rest.mean_square
        interaction_p = float(fdtrc(apart.dof, rest.dof, ratio))
        pooled = interaction_p > pool_above
    if pooled:
        names.remove(INTERACTION)
        groupings = {name: groupings[name] for name in names}
        table = _table(y, groupings, crossed=crossed)
    bounds = study_of_table(table, [*names, REPEAT], p=p)
    kept = {
        PART: bounds.part,
        OPERATOR: bounds.reproducibility,
        INTERACTION: bounds.interaction,
        REPEAT: bounds.repeatability,
    }
    first = {name: one for name, one in kept.items() if one is not None}
    variances, covariance = _fit(y, groupings, first)
    every = [*names, REPEAT]

    def made(name: str, members: Sequence[str], by: Component) -> Component:
        on = np.array([float(one in members) for one in every])
        variance = float(on @ variances)
        lost = float(on @ covariance @ on)
        return Component(
            name,
            variance,
            variance if variance > 0.0 else min(by.raw_variance, 0.0),
            min(by.low, variance),
            max(by.high, variance),
            2.0 * variance**2 / lost if lost > 0.0 else 0.0,
        )

    parted = {name: made(name, [name], by) for name, by in first.items()}
    gauge = made("gauge", [name for name in every if name != PART], bounds.gauge)
    total = made("total", every, bounds.total)
    ends = None
    if bounds.of_total is not None:
        share = 100.0 * math.sqrt(gauge.variance / total.variance)
        ends = (min(bounds.of_total.low, share), max(bounds.of_total.high, share))
    return found_study(
        parted,
        gauge,
        total,
        ends,
        method=Method.REML,
        interaction_p=interaction_p,
        pooled=pooled,
        inseparable=crossed and len(groupings) == 2 and not pooled,
        p=p,
    )


def _fit(
    y: Floats, groupings: Mapping[str, Labels], first: Mapping[str, Component]
) -> tuple[Floats, Floats]:
    """Variances of the groupings and the repeats, and their covariance to first order.

    ``first`` holds those of the mean squares, which are close.

    Parts that differ vastly more than repeats are taken as fixed, to which random ones come down
    in that limit; their own variance is then that of the mean squares.
    """
    rest, part = first[REPEAT], first.get(PART)
    far = part is not None and part.variance > _FAR * rest.variance
    among = {name: code for name, code in groupings.items() if name != PART or not far}
    design = np.ones((len(y), 1))
    if far:
        design = _basis(len(y), [_dummies(groupings[PART])])
        y = y - design @ (design.T @ y)
    if among:
        near = [first[name].variance / rest.variance for name in among]
        fit = reml_fit(y, design, list(among.values()), near=near)
        variances, covariance = fit.variances, fit.covariance
    else:
        variances = np.array([rest.variance])
        covariance = np.array([[2.0 * rest.variance**2 / rest.dof]])
    if far and part is not None:
        variances = np.concatenate([[part.variance], variances])
        wide = np.zeros((len(variances),) * 2)
        wide[0, 0], wide[1:, 1:] = 2.0 * part.variance**2 / part.dof, covariance
        covariance = wide
    return variances, covariance


def _table(y: Floats, groupings: Mapping[str, Labels], *, crossed: bool) -> tuple[MeanSquare, ...]:
    """Mean squares by fitting constants: each grouping beside those that do not contain it."""
    n = len(y)
    dummies = {name: _dummies(code) for name, code in groupings.items()}
    names = [*groupings]
    steps: list[tuple[str, list[str], list[str]]] = []
    if crossed and OPERATOR in names and PART in names:
        both = [PART, OPERATOR]
        steps = [(PART, both, [OPERATOR]), (OPERATOR, both, [PART])]
        if INTERACTION in names:
            steps.append((INTERACTION, [INTERACTION], both))
    else:
        steps = [(name, [name], names[max(i - 1, 0) : i]) for i, name in enumerate(names)]
    whole = steps[-1][1] if steps else []
    rows = []
    for name, fitted, without in steps:
        high, low = (_basis(n, [dummies[one] for one in those]) for those in (fitted, without))
        gain = [_size(high, one) - _size(low, one) for one in dummies.values()]
        dof = high.shape[1] - low.shape[1]
        rows.append(_row(name, _size(high, y) - _size(low, y), dof, [*gain, float(dof)]))
    rest = _basis(n, [dummies[one] for one in whole])
    left = float(((y - rest @ (rest.T @ y)) ** 2).sum())
    dof = n - rest.shape[1]
    rows.append(_row(REPEAT, left, dof, [0.0] * len(dummies) + [float(dof)]))
    return tuple(rows)


def _row(name: str, squares: float, dof: int, gain: Sequence[float]) -> MeanSquare:
    # Rounding leaves crumbs where a grouping adds nothing.
    expected = tuple(one / dof if one > 1e-9 * max(gain) else 0.0 for one in gain)
    return MeanSquare(name, max(squares, 0.0), dof, expected)


def _dummies(code: Labels) -> Floats:
    return np.asarray(code[:, None] == np.arange(code.max() + 1), dtype=np.float64)


def _basis(n: int, dummies: Sequence[Floats]) -> Floats:
    """Orthonormal columns that span a constant and the groups."""
    columns = np.column_stack([np.full(n, 1.0), *dummies])
    left, sizes, _ = np.linalg.svd(columns, full_matrices=False)
    return np.asarray(left[:, sizes > 1e-10 * sizes[0]], dtype=np.float64)


def _size(basis: Floats, of: Floats) -> float:
    """Sum of squares of the projection."""
    return float(((basis.T @ of) ** 2).sum())
