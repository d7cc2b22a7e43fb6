"""Capability of a process: how its scatter compares with the limits it has to keep."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from filmstress.errors import UsageError
from filmstress.stats.tolerance import scatter_nodes


@dataclass(frozen=True, slots=True)
class Index:
    """A capability index with its two-sided interval.

    Attributes
    ----------
    value, low, high : float
        [1]
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Capability:
    """The two indices of a process.

    Attributes
    ----------
    potential : Index or None
        (upper - lower) / 6 sigma, Cp or Pp: what centring could reach; None with one limit.
    actual : Index
        Distance from the mean to the nearer limit over 3 sigma, Cpk or Ppk; negative where the
        mean lies outside.
    """

    potential: Index | None
    actual: Index


def capability(
    *,
    mean: float,
    sigma: float,
    dof: float,
    count: float,
    lower: float | None = None,
    upper: float | None = None,
    shared_u: float = 0.0,
    p: float = 0.95,
) -> Capability:
    """Capability indices of a normal process with their intervals.

    Parameters
    ----------
    mean, sigma : float
        Estimates of the mean and of the standard deviation of one item [unit].
    dof : float
        Degrees of freedom of ``sigma``, whole or not, at least 1.
    count : float
        How many independent items the mean is worth: its variance is sigma^2 / count.
    lower, upper : float or None
        Limits [unit]; at least one.
    shared_u : float
        Standard uncertainty of an error that all items share [unit]: it shifts the mean and does
        not show in the scatter.
    p : float
        Coverage probability of the intervals.

    Raises
    ------
    UsageError
        If a number is out of range, no limit came, or they are the wrong way round.

    Notes
    -----
    Cp goes by the chi-squared distribution of sigma^2.  Cpk against one limit goes by the
    noncentral t distribution, which is exact without a shared error: 3 sqrt(n) Cpk has the
    noncentrality 3 sqrt(n) times the true one.  Against two limits, Bissell's normal approximation
    with variance 1/(9 n) + Cpk^2/(2 dof).  A shared error takes part as a less certain mean:
    1/n = 1/count + (shared_u/sigma)^2.

    References
    ----------
    A. F. Bissell, Appl. Statist. 39 (1990) 331, doi:10.2307/2347383.
    ISO 22514-2.  NIST/SEMATECH e-Handbook of Statistical Methods, 7.1.6 and 6.1.6,
    doi:10.18434/M32189.
    """
    _check(mean, sigma, dof, count, lower, upper, shared_u, p)
    n = 1.0 / (1.0 / count + (shared_u / sigma) ** 2)
    ends = [limit for limit in (lower, upper) if limit is not None]
    margins = [mean - lower] if lower is not None else []
    margins += [upper - mean] if upper is not None else []
    nearest = min(margins) / (3.0 * sigma)
    if len(ends) == 1:
        return Capability(None, _one_limit(nearest, n, dof, p))
    z = NormalDist().inv_cdf(0.5 + 0.5 * p)
    half = z * math.sqrt(1.0 / (9.0 * n) + nearest**2 / (2.0 * dof))
    return Capability(
        _both_limits((ends[1] - ends[0]) / (6.0 * sigma), dof, p),
        Index(nearest, nearest - half, nearest + half),
    )


def without_measurement(sigma: float, dof: float, u: float) -> tuple[float, float] | None:
    """Standard deviation and degrees of freedom once the measurement's scatter is taken out.

    Parameters
    ----------
    sigma, dof : float
        As observed.
    u : float
        Standard deviation that the measurement brings to one item [unit], taken as known.

    Returns
    -------
    (float, float) or None
        sqrt(sigma^2 - u^2), with fewer degrees of freedom: the variance of a variance stays while
        the variance shrinks.  None where the measurement explains all the scatter.
    """
    rest = sigma**2 - u**2
    if rest <= 0.0:
        return None
    return math.sqrt(rest), dof * (rest / sigma**2) ** 2


def _both_limits(value: float, dof: float, p: float) -> Index:
    # Imported here: capability alone needs it.
    from scipy.special import gammaincinv

    low, high = (
        value * math.sqrt(2.0 * float(gammaincinv(0.5 * dof, q)) / dof)
        for q in (0.5 - 0.5 * p, 0.5 + 0.5 * p)
    )
    return Index(value, low, high)


def _one_limit(value: float, n: float, dof: float, p: float) -> Index:
    from scipy.special import ndtr

    root = 3.0 * math.sqrt(n)
    scatter, weights = scatter_nodes(dof)

    def below(true: float) -> float:
        """P(index <= value) where the true one is ``true``; falls with it."""
        return float(weights @ ndtr(root * (value * scatter - true)))

    def solved(wanted: float) -> float:
        reach = 1.0 + abs(value) + 10.0 / root
        low, high = value - reach, value + reach
        while below(low) < wanted:
            low -= reach
        while below(high) > wanted:
            high += reach
        for _ in range(60):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if below(middle) > wanted else (low, middle)
        return 0.5 * (low + high)

    return Index(value, solved(0.5 + 0.5 * p), solved(0.5 - 0.5 * p))


def _check(
    mean: float,
    sigma: float,
    dof: float,
    count: float,
    lower: float | None,
    upper: float | None,
    shared_u: float,
    p: float,
) -> None:
    numbers = [mean, sigma, dof, count, shared_u, *(x for x in (lower, upper) if x is not None)]
    if not np.isfinite(numbers).all() or sigma <= 0.0 or shared_u < 0.0:
        raise UsageError("finite numbers are wanted, with a sigma above 0")
    if dof <= 0.0 or count <= 0.0 or not 0.0 < p < 1.0:
        raise UsageError(
            f"dof {dof!r}, count {count!r} and p {p!r} came, numbers above 0 and a probability are"
            " wanted"
        )
    if lower is None and upper is None:
        raise UsageError("no limit came, at least one is wanted", hint="pass lower or upper")
    if lower is not None and upper is not None and not lower < upper:
        raise UsageError("the limits are the wrong way round", hint="lower < upper, signed")
