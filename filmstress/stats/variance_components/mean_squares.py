"""From mean squares to variances: estimates, degrees of freedom and intervals.

A sum of multiples of mean squares, some of them negative, has no exact interval.  The generalised
one is used for all: each mean square is thought of as (what it was found to be) times its degrees
of freedom over a chi-square variable, and the interval is read from that distribution.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.stats.variance_components.records import Component, MeanSquare

Floats = NDArray[np.float64]

_POWER = 15
"""2^15 points of a Sobol sequence: ends of intervals are good to about 0.5 %."""


def satterthwaite(parts: Sequence[tuple[float, float]]) -> float:
    """Effective degrees of freedom of a sum of multiples of mean squares.

    It is 0 where the sum is not positive.

    Parameters
    ----------
    parts : sequence of (float, float)
        Multiple times mean square, and its degrees of freedom.

    References
    ----------
    F. E. Satterthwaite, Biometrics Bull. 2 (1946) 110, doi:10.2307/3002019.
    """
    total = sum(value for value, _ in parts)
    lost = sum(value**2 / dof for value, dof in parts)
    return total**2 / lost if total > 0.0 and lost > 0.0 else 0.0


def interval(
    table: Sequence[MeanSquare], of: Callable[[Sequence[Floats]], Floats], *, p: float
) -> tuple[float, float]:
    """Generalised confidence interval of a function of expected mean squares.

    Parameters
    ----------
    table : sequence of MeanSquare
        Independent mean squares of normal effects (exact for balanced data).
    of : callable
        Takes one array of draws for each mean square and gives the quantity's draws.
    p : float
        Coverage probability.

    Returns
    -------
    (low, high)

    Notes
    -----
    Equal to the chi-square interval for a single mean square.  Holds its probability closely, if
    not exactly, for differences and ratios.  The same data always give the same interval.

    References
    ----------
    S. Weerahandi, J. Am. Stat. Assoc. 88 (1993) 899, doi:10.1080/01621459.1993.10476355.
    M. Hamada and S. Weerahandi, J. Qual. Technol. 32 (2000) 241,
    doi:10.1080/00224065.2000.11980000.
    """
    draws, _ = generalised_draws(table)
    low, high = np.quantile(of(list(draws)), [0.5 * (1.0 - p), 0.5 * (1.0 + p)])
    return float(low), float(high)


def component(name: str, factors: ArrayLike, table: Sequence[MeanSquare], *, p: float) -> Component:
    """Variance that is a sum of factors times mean squares, with its interval."""
    factors = np.asarray(factors, dtype=np.float64)
    parts = [(float(c) * row.mean_square, row.dof) for c, row in zip(factors, table, strict=True)]
    raw = sum(value for value, _ in parts)

    def variance(draws: Sequence[Floats]) -> Floats:
        return np.asarray(np.maximum(np.tensordot(factors, np.stack(draws), axes=1), 0.0))

    low, high = interval(table, variance, p=p)
    return Component(name, max(raw, 0.0), raw, low, high, satterthwaite(parts))


def generalised_draws(table: Sequence[MeanSquare]) -> tuple[Floats, Floats]:
    """What the expected mean squares may be, and a standard normal number beside each draw.

    Returns
    -------
    (ndarray, shape (rows, m)), (ndarray, shape (m,))
    """
    points = _points(len(table) + 1)
    dofs = tuple(one.dof for one in table)
    sums = np.array([[one.sum_of_squares] for one in table])
    return sums / _chi_squares(dofs), _normal(points[-1])


@lru_cache(maxsize=16)
def _chi_squares(dofs: tuple[int, ...]) -> Floats:
    from scipy.special import chdtri

    points = _points(len(dofs) + 1)
    return np.stack([chdtri(dof, row) for dof, row in zip(dofs, points[:-1], strict=True)])


def _normal(points: Floats) -> Floats:
    from scipy.special import ndtri

    return np.asarray(ndtri(points))


@lru_cache(maxsize=8)
def _points(dimensions: int) -> Floats:
    from scipy.stats import qmc

    # The sequence starts at 0: moved to the middle of its finest cells.
    points = qmc.Sobol(dimensions, scramble=False).random_base2(_POWER) + 0.5 ** (_POWER + 1)
    return np.ascontiguousarray(points.T)
