"""A gauge's own scatter: parts measured repeatedly, by several operators (or loadings, or days)."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.gauge_anova import (
    crossed_study,
    no_scatter,
    study_of_table,
)
from filmstress.stats.variance_components.gauge_likelihood import likelihood_study
from filmstress.stats.variance_components.gauge_records import (
    INTERACTION,
    OPERATOR,
    PART,
    REPEAT,
    GaugeStudy,
)
from filmstress.stats.variance_components.nested import nested_anova
from filmstress.stats.variance_components.records import MeanSquare

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]


def gauge_study(
    values: ArrayLike,
    parts: Sequence[Hashable],
    operators: Sequence[Hashable] | None = None,
    *,
    within: bool = False,
    pool_above: float = 0.25,
    p: float = 0.95,
) -> GaugeStudy:
    """Part the scatter of repeated measurements into gauge and parts.

    Parameters
    ----------
    values : array_like, shape (n,)
        Observations [unit].
    parts, operators : sequence, shape (n,)
        Which part, and who (or on which day, in which loading) measured it.  Without operators, or
        with one, only repeatability is studied; with one part, nothing is said of parts.
    within : bool
        Operators (loadings, more likely) stand within parts: those of one name under two parts
        are different ones.  Nothing is pooled then.
    pool_above : float
        The interaction is counted as repeatability where its p-value lies above this; 1 never
        pools.
    p : float
        Coverage probability of the intervals.

    Raises
    ------
    UsageError
        If lengths differ or a number is not finite.
    RefusedInput
        If nothing was repeated, repeats never differ, or operators cannot be told from parts or
        from repeats.

    Notes
    -----
    Parts and operators are taken as drawn at random from many.  Two or three operators say little
    about operators in general: see the interval of ``reproducibility``.  With unequal numbers of
    repeats, or parts that an operator left out, the components are those of greatest restricted
    likelihood.

    References
    ----------
    ISO 22514-7; ASTM E2782.  Measurement Systems Analysis Reference Manual, 4th ed. (2010), ch. 3.
    R. K. Burdick, C. M. Borror, D. C. Montgomery, J. Qual. Technol. 35 (2003) 342,
    doi:10.1080/00224065.2003.11980232 (intervals).
    """
    y = np.asarray(values, dtype=np.float64)
    labels = [parts] if operators is None else [parts, operators]
    if y.ndim != 1 or not np.isfinite(y).all() or any(len(one) != len(y) for one in labels):
        raise UsageError(
            f"values of shape {y.shape} came, a row of finite numbers with a part (and operator)"
            " for each is wanted"
        )
    part = _codes(parts)
    operator = np.zeros_like(part) if operators is None else _codes(operators)
    cells = np.zeros((part.max(initial=-1) + 1, operator.max(initial=-1) + 1), dtype=np.intp)
    np.add.at(cells, (part, operator), 1)
    cell = _codes(list(zip(part.tolist(), operator.tolist(), strict=True)))
    # Operators who measured one part each stand within parts, whatever they are called.
    within = within or (len(cells) > 1 and bool(((cells > 0).sum(axis=0) == 1).all()))
    names = _within_terms(cells) if within else _crossed_terms(cells)
    if not np.ptp(y) > 0.0:
        raise no_scatter()
    if within or min(cells.shape) == 1:
        groups = {PART: part, OPERATOR: cell if within else operator}
        nested = {name: groups[name] for name in names}
        if all(len(set(np.bincount(code))) == 1 for code in nested.values()) and (
            len(nested) < 2 or len(set((cells > 0).sum(axis=1))) == 1
        ):
            return study_of_table(_nested_table(y, nested), [*nested, REPEAT], p=p)
        return likelihood_study(y, nested, crossed=False, pool_above=pool_above, p=p)
    if (cells == cells[0, 0]).all():
        data = y[np.lexsort((operator, part))].reshape(*cells.shape, -1)
        return crossed_study(data, pool_above=pool_above, p=p)
    crossed = {PART: part, OPERATOR: operator, INTERACTION: cell}
    return likelihood_study(
        y,
        {name: crossed[name] for name in names},
        crossed=True,
        pool_above=pool_above,
        p=p,
    )


def _nested_table(y: Floats, groups: dict[str, Labels]) -> tuple[MeanSquare, ...]:
    if groups:
        levels = {name: code.tolist() for name, code in groups.items()}
        return nested_anova(y, levels, residual=REPEAT).table
    return (MeanSquare(REPEAT, float(((y - y.mean()) ** 2).sum()), len(y) - 1, (1.0,)),)


def _crossed_terms(cells: Labels) -> list[str]:
    """What can be told apart beside the repeatability where operators are the same for all parts.

    Judged as for fixed effects: what they cannot tell apart, random ones can only guess.
    """
    (a, b), n, filled = cells.shape, int(cells.sum()), int((cells > 0).sum())
    additive = a + b - _blocks(cells > 0)
    if n <= additive:
        raise RefusedInput(
            f"{n} values of {a} parts came: nothing was repeated, so there is no repeatability",
            hint="measure some of the parts again",
        )
    names = [PART] if a > 1 else []
    if b > 1:
        if a > 1 and additive == a:
            raise RefusedInput(
                "each part was measured by one operator only: operators cannot be told from parts",
                hint="let each measure the same parts, or leave the operators out",
            )
        names.append(OPERATOR)
    if len(names) == 2 and n > filled > additive:
        names.append(INTERACTION)
    return names


def _within_terms(cells: Labels) -> list[str]:
    """The same where operators (loadings) are others for each part."""
    a, n, filled = len(cells), int(cells.sum()), int((cells > 0).sum())
    if filled == a:
        raise RefusedInput(
            "no part was measured under two operators (loadings): these cannot be told from parts",
            hint="leave them out",
        )
    if n == filled:
        raise RefusedInput(
            "nothing was measured twice under one operator (loading): these cannot be told from"
            " repeats",
            hint="leave them out",
        )
    return [PART, OPERATOR] if a > 1 else [OPERATOR]


def _blocks(met: NDArray[np.bool_]) -> int:
    """Number of sets of parts and operators that share no measurement with the others."""
    left, count = set(range(len(met))), 0
    while left:
        count += 1
        reached = {left.pop()}
        while reached:
            operators = met[list(reached)].any(axis=0)
            reached = {i for i in left if (met[i] & operators).any()}
            left -= reached
    return count


def _codes(labels: Sequence[Hashable]) -> Labels:
    number = {label: i for i, label in enumerate(dict.fromkeys(labels))}
    return np.array([number[one] for one in labels], dtype=np.intp)
