"""The studentized range: the range of k normal means over an independent standard deviation."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.coverage import t_factor

Floats = NDArray[np.float64]

_MANY = 1e5
"""From here on the standard deviation is taken as known: the quantile differs by below 2e-5."""
_STEPS = 256
_NARROW = 36.0  # e^-36 of the highest is left out
_Z = np.linspace(-8.5, 8.5, 137)


def range_cdf(q: float, count: int, dof: float) -> float:
    """Probability that the range of ``count`` means is at most ``q`` standard deviations.

    Parameters
    ----------
    q : float
        [1].
    count : int
        2 or more.
    dof : float
        Degrees of freedom of the standard deviation, 1 or more; may be infinite.

    Notes
    -----
    The range over a known standard deviation, k times the integral of
    phi(z) (Phi(z) - Phi(z - w))^(k - 1), averaged over the distribution of the estimated one: both
    integrals by the trapezoidal rule, in z and in the logarithm of the standard deviation, where
    the integrands are smooth and fade at both ends.  Good to 1e-9 for up to 40 means, 1e-6 for 100.

    References
    ----------
    H. L. Harter, Ann. Math. Stat. 31 (1960) 1122, doi:10.1214/aoms/1177705684.
    """
    if q <= 0.0:
        return 0.0
    if dof >= _MANY:
        return float(_of_known(np.array([q]), count)[0])
    log_s, weight = _standard_deviations(dof)
    return min(1.0, float(weight @ _of_known(q * np.exp(log_s), count)))


@lru_cache(maxsize=256)
def range_factor(p: float, count: int, dof: float) -> float:
    """The range that ``count`` means keep with probability ``p``, in standard deviations.

    Raises
    ------
    UsageError
        If ``p`` is not between 0 and 1, or ``dof`` below 1.
    """
    pairs = 0.5 * count * (count - 1)
    # It lies between what one pair asks for and what all pairs do by Bonferroni's inequality.
    low, high = (math.sqrt(2.0) * t_factor(one, dof) for one in (p, 1.0 - (1.0 - p) / pairs))
    below, above = range_cdf(low, count, dof) - p, range_cdf(high, count, dof) - p
    if above <= 0.0 or below >= 0.0:  # two means: both ends are it, but for rounding
        return high if above <= 0.0 else low
    kept = 0
    for _ in range(60):
        middle = high - above * (high - low) / (above - below)
        off = range_cdf(middle, count, dof) - p
        if abs(off) < 1e-11 or high - low < 1e-11 * high:
            return middle
        # False position; an end that is kept twice counts half, or it would never move (Illinois).
        if off > 0.0:
            high, above = middle, off
            below *= 0.5 if kept > 0 else 1.0
            kept = 1
        else:
            low, below = middle, off
            above *= 0.5 if kept < 0 else 1.0
            kept = -1
    return middle


def _of_known(w: Floats, count: int) -> Floats:
    """Distribution of the range over a known standard deviation, at every ``w``."""
    # Imported here: nothing on the way to a single wafer's stress needs it.
    from scipy.special import ndtr

    density = np.exp(-0.5 * _Z**2) / math.sqrt(2.0 * math.pi)
    between = ndtr(_Z) - ndtr(_Z - w[:, None])
    return np.asarray(count * (_Z[1] - _Z[0]) * (between ** (count - 1) @ density))


@lru_cache(maxsize=256)
def _standard_deviations(dof: float) -> tuple[Floats, Floats]:
    """Logarithms of an estimated standard deviation over the true one, and their weights.

    The density of t = ln s goes with exp(dof (t - e^(2 t)/2)).
    """
    low = -(_NARROW / dof + 0.5)
    high = 0.5 * math.log(2.0 * _NARROW / dof + 4.0)
    if dof > 4.0 * _NARROW:
        # Narrow, and nearly normal: t has the standard deviation 1/sqrt(2 dof).
        low, high = (end * math.sqrt(2.0 * _NARROW / (2.0 * dof)) for end in (-2.0, 2.0))
    t = np.linspace(low, high, _STEPS)
    weight = np.exp(dof * (t - 0.5 * np.exp(2.0 * t) + 0.5))
    return t, weight / weight.sum()
