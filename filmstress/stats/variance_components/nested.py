"""Components of variance of nested data (sites in wafers in lots), by analysis of variance."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.mean_squares import component, satterthwaite
from filmstress.stats.variance_components.records import Components, MeanSquare, Method

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]


def nested_anova(
    values: ArrayLike,
    levels: Mapping[str, Sequence[Hashable]],
    *,
    residual: str = "repeat",
    p: float = 0.95,
) -> Components:
    """Components of variance of fully nested data.

    Parameters
    ----------
    values : array_like, shape (n,)
        Observations [unit].
    levels : mapping of str to sequence
        Label of each observation at each level, outermost first: {"lot": ..., "wafer": ...}.  A
        label means something within its outer labels only: wafer 1 of lot A is not wafer 1 of B.
    residual : str
        Name of the scatter within the innermost level.
    p : float
        Coverage probability of the intervals.

    Raises
    ------
    UsageError
        If lengths differ or a number is not finite.
    RefusedInput
        If a level has no degree of freedom (one lot; one site on every wafer), or nothing scatters.

    Notes
    -----
    With unequal numbers the mean squares are neither independent nor chi-square: intervals and
    degrees of freedom are then approximate, and `reml_nested` uses the data better.

    References
    ----------
    S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992), 4.4 (balanced), 5.3
    (unequal numbers: coefficients of the expected mean squares).
    """
    y = np.asarray(values, dtype=np.float64)
    codes = nested_codes(y, levels)
    names = [*levels, residual]
    if not np.ptp(y) > 0.0:
        raise RefusedInput("the observations do not scatter: there is no variance to part")
    table = _table(y, codes, names)
    balanced = all(len(set(np.bincount(code))) == 1 for code in codes)
    inverse = np.linalg.inv(np.array([row.expected for row in table]))
    components = tuple(
        component(name, row, table, p=p) for name, row in zip(names, inverse, strict=True)
    )
    total = component("total", inverse.sum(axis=0), table, p=p)
    # The mean's variance: each component over the number of its groups, counted by their weight.
    n = len(y)
    spread = [float((np.bincount(code) ** 2).sum()) / n**2 for code in codes] + [1.0 / n]
    on_squares = np.array(spread) @ inverse
    parts = [
        (float(c) * row.mean_square, row.dof) for c, row in zip(on_squares, table, strict=True)
    ]
    # Rounding leaves crumbs of the inner mean squares, which balanced data cancel exactly.
    outer, *inner = parts
    parts = [outer, *(one for one in inner if abs(one[0]) > 1e-12 * abs(outer[0]))]
    variance = sum(value for value, _ in parts)
    if variance <= 0.0:
        parts, variance = [outer], max(outer[0], 0.0)
    return Components(
        components=components,
        total=total,
        table=table,
        mean=float(y.mean()),
        mean_u=math.sqrt(variance),
        mean_dof=satterthwaite(parts),
        p=p,
        method=Method.ANOVA,
        balanced=balanced,
    )


def nested_codes(y: Floats, levels: Mapping[str, Sequence[Hashable]]) -> list[Labels]:
    """Number of the group of each observation, level by level, outer labels taken along."""
    if y.ndim != 1 or len(y) == 0 or not np.isfinite(y).all():
        raise UsageError(f"values of shape {y.shape} came, a row of finite numbers is wanted")
    if not levels:
        raise UsageError("no level came", hint='such as {"lot": [...], "wafer": [...]}')
    outer: list[tuple[Hashable, ...]] = [()] * len(y)
    codes = []
    for name, labels in levels.items():
        if len(labels) != len(y):
            raise UsageError(
                f"{len(labels)} labels came for {len(y)} values, one for each is wanted", where=name
            )
        outer = [(*before, label) for before, label in zip(outer, labels, strict=True)]
        number = {label: i for i, label in enumerate(dict.fromkeys(outer))}
        codes.append(np.array([number[label] for label in outer], dtype=np.intp))
    return codes


def _table(y: Floats, codes: Sequence[Labels], names: Sequence[str]) -> tuple[MeanSquare, ...]:
    """Sums of squares level by level, and what each mean square is expected to be."""
    n = len(y)
    every = [np.zeros(n, dtype=np.intp), *codes, np.arange(n)]
    deviations = y - y.mean()
    means = [np.bincount(code, deviations) / np.bincount(code) for code in every]
    # What a component of level j adds to the sum of (group total)^2 / size over groups of level i.
    weight = [
        [_weight(every[i], every[j]) for j in range(1, len(every))] for i in range(len(every))
    ]
    rows = []
    for i, name in enumerate(names, 1):
        dof = len(means[i]) - len(means[i - 1])
        if dof < 1:
            raise RefusedInput(
                f"no two members of any one group came at the level '{name}': its scatter cannot"
                " be told from that of the next level out",
                hint="leave that level out, or take more of it",
            )
        squares = float(((means[i][every[i]] - means[i - 1][every[i - 1]]) ** 2).sum())
        gain = [(a - b) / dof for a, b in zip(weight[i], weight[i - 1], strict=True)]
        expected = tuple(0.0 if j < i - 1 else one for j, one in enumerate(gain))
        rows.append(MeanSquare(name, squares, dof, expected))
    return tuple(rows)


def _weight(groups: Labels, members: Labels) -> float:
    size = np.bincount(groups)
    pairs, count = np.unique(np.stack([groups, members]), axis=1, return_counts=True)
    return float((count**2 / size[pairs[0]]).sum())
