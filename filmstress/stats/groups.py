"""Groups of independent values with the inputs they share, and budgets of sums of their means.

A group's values must be independent of one another: where wafers come in lots, the values are the
lots' means (`lot_means`), for lots differ by more than the wafers within them, and however many
wafers a lot has, it is one draw of what recipes do.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Source
from filmstress.stats.budget import combine
from filmstress.stats.shared_terms import split_terms

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Independent values of one kind.

    Attributes
    ----------
    name : str
        As the reader knows it.
    values : ndarray, shape (n,)
        One for each lot [unit].
    terms : tuple of tuples of Term
        Budget terms of each value, or empty.  Only inputs that several values share matter here;
        what each value has alone shows in how the values scatter.
    """

    name: str
    values: Floats
    terms: tuple[tuple[Term, ...], ...] = ()

    @property
    def mean(self) -> float:
        """Mean of the values [unit]."""
        return float(self.values.mean())

    @property
    def sd(self) -> float:
        """Standard deviation of the values [unit]; NaN for a single one."""
        return float(self.values.std(ddof=1)) if len(self.values) > 1 else math.nan


def group(name: str, values: ArrayLike, terms: Sequence[Sequence[Term]] = ()) -> Group:
    """Make a group of independent values.

    Raises
    ------
    UsageError
        If no value came, one is not finite, or ``terms`` are not one sequence for each value.
    """
    row = np.asarray(values, dtype=np.float64)
    if row.ndim != 1 or len(row) == 0 or not np.isfinite(row).all():
        raise UsageError(
            f"values of shape {row.shape} came, a row of finite numbers is wanted", where=name
        )
    if terms and len(terms) != len(row):
        raise UsageError(
            f"{len(terms)} budgets came for {len(row)} values, one for each is wanted", where=name
        )
    return Group(name, row, tuple(tuple(one) for one in terms))


def lot_means(values: ArrayLike, lots: Sequence[Hashable]) -> tuple[Floats, tuple[Hashable, ...]]:
    """Mean of each lot, in the order of first appearance, and the lots.

    Raises
    ------
    UsageError
        If there is not one lot for each value.

    Notes
    -----
    Lots of unequal size count alike: with lot-to-lot scatter larger than that of a lot's mean, as
    usual, this loses little, and the interval stays exact for lots of equal size.
    """
    row = np.asarray(values, dtype=np.float64)
    if row.ndim != 1 or len(row) != len(lots):
        raise UsageError(
            f"{len(lots)} lots came for values of shape {row.shape}, one for each is wanted"
        )
    names = tuple(dict.fromkeys(lots))
    means = [row[[lot == name for lot in lots]].mean() for name in names]
    return np.array(means, dtype=np.float64), names


@dataclass(frozen=True, slots=True)
class PooledSpread:
    """One standard deviation taken for several groups.

    Attributes
    ----------
    sd : float
        [unit].
    dof : float
        Number of values less number of groups.
    """

    sd: float
    dof: float


def pooled_spread(groups: Sequence[Group]) -> PooledSpread:
    """Standard deviation within groups, all groups together.

    Raises
    ------
    RefusedInput
        If no group has two values.
    """
    dof = sum(len(one.values) - 1 for one in groups)
    if dof < 1:
        raise _too_few(groups)
    squares = sum(float(((one.values - one.mean) ** 2).sum()) for one in groups)
    return PooledSpread(math.sqrt(squares / dof), float(dof))


@dataclass(frozen=True, slots=True)
class Contrast:
    """Uncertainty of a sum of factors times group means.

    Attributes
    ----------
    budget : Budget
        Scatter and every shared input, after cancelling.
    shared_before : float
        Standard uncertainty that the shared inputs would bring if each group had inputs of its own,
        so that nothing cancelled between groups [unit].
    """

    budget: Budget
    shared_before: float


def contrast(
    groups: Sequence[Group], factors: Sequence[float], *, pooled: PooledSpread | None = None
) -> Contrast:
    """Budget of the sum of each factor times the mean of its group.

    Parameters
    ----------
    groups : sequence of Group
        Budget terms where inputs are shared (a modulus, a calibration).
    factors : sequence of float
        1 and -1 for a difference.
    pooled : PooledSpread, optional
        One spread for all; default each group its own.

    Raises
    ------
    RefusedInput
        If the scatter of a group cannot be found: without ``pooled``, a single value.

    Notes
    -----
    An input that all values share and that acts alike on all cancels in a difference; a factor
    common to both (a modulus) leaves its relative uncertainty times the difference.  An input
    shared by some values of a group only counts in full, though the scatter holds a part of it as
    well: on the safe side.  Everything that a value has alone is in the scatter.
    """
    counts = [len(one.values) for one in groups]
    if pooled is None:
        if min(counts) < 2:
            raise _too_few(groups)
        terms = [
            _scatter(one.name, abs(factor) * one.sd / math.sqrt(count), count - 1.0)
            for one, factor, count in zip(groups, factors, counts, strict=True)
        ]
    else:
        # One spread stands behind all: as one term it keeps its degrees of freedom.
        each = (f / math.sqrt(count) for f, count in zip(factors, counts, strict=True))
        terms = [_scatter("all groups", pooled.sd * math.hypot(*each), pooled.dof)]
    items = [one.terms or ((),) * count for one, count in zip(groups, counts, strict=True)]
    split = split_terms([terms for item in items for terms in item])
    weights = np.repeat([f / n for f, n in zip(factors, counts, strict=True)], counts)
    terms += [one.on(weights) for one in split.shared]
    place = np.repeat(np.arange(len(groups)), counts)
    apart = (
        float(weights[place == i] @ one.effects[place == i])
        for one in split.shared
        for i in range(len(groups))
    )
    return Contrast(combine(terms), math.hypot(*apart))


def _scatter(name: str, u: float, dof: float) -> Term:
    return Term(
        input=f"scatter of {name}",
        value=0.0,
        unit="",
        u=u,
        sensitivity=1.0,
        dof=dof,
        evaluation="A",
        source=Source.DATA,
    )


def _too_few(groups: Sequence[Group]) -> RefusedInput:
    counts = " and ".join(str(len(one.values)) for one in groups)
    return RefusedInput(
        f"{counts} independent values came: how they scatter cannot be found",
        where=", ".join(one.name for one in groups),
        hint="at least two lots of each are wanted; wafers of one lot do not replace them",
    )
