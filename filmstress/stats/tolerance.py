"""What a sample says of the population it was drawn from: statistical tolerance intervals.

The population is normal; its mean and standard deviation are known only from the sample.  All
values of the sample may share one error (a gauge, a modulus), which neither shows in their scatter
nor averages away.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache, lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError

Floats = NDArray[np.float64]

_PIECES, _NODES = 6, 40
# The scatter of a sample lies within this many standard errors of the population's.
_REACH = 9.0


def content_confidence(
    *,
    mean: float,
    sd: float,
    n: int,
    content: float,
    lower: float | None = None,
    upper: float | None = None,
    shared_u: float = 0.0,
) -> float:
    """Confidence that at least ``content`` of a normal population lies within limits.

    Parameters
    ----------
    mean, sd : float
        Of the sample [unit].
    n : int
        Size of the sample, 2 or more.
    content : float
        Share of the population, between 0 and 1.
    lower, upper : float or None
        Limits [unit]; at least one.
    shared_u : float
        Standard uncertainty of an error that all values of the sample share [unit], normal.

    Returns
    -------
    float
        Correct to 1e-6.

    Raises
    ------
    UsageError
        For a sample of fewer than two, or parameters out of range.

    Notes
    -----
    With U = sqrt(chi^2/nu) of nu = n - 1 degrees of freedom, the population's standard deviation is
    sd/U and its mean is normal about ``mean`` with variance shared_u^2 + (sd/U)^2/n (generalized
    pivotal quantities).  For one limit and no shared error the confidence is exact: with
    k = (limit - mean)/sd it is P(t' <= k sqrt(n)), t' noncentral with z_content sqrt(n).  The same
    holds for the interval ``mean`` ± k sd.  With a shared error, and between two limits held fixed,
    it errs to the safe side: in simulations the stated confidence was always kept, and 0.05 became
    0.01 to 0.05 (tests/stats/test_tolerance.py).

    References
    ----------
    ISO 16269-6:2014 (tolerance intervals).  K. Krishnamoorthy, T. Mathew, Statistical Tolerance
    Regions (2009), 2.2 and 2.3 (pivotal quantities), doi:10.1002/9780470473900.
    """
    _check_sample(n, sd, shared_u)
    _check_share(content, "content")
    if lower is None and upper is None:
        raise UsageError("no limit came, at least one is wanted", hint="pass lower or upper")
    if lower is not None and upper is not None and lower >= upper:
        return 0.0
    if sd == 0.0:
        # All alike: only the shared error is left, and the whole population lies in one place.
        return _of_a_point(mean, shared_u, lower, upper)
    # In units of sd, from the sample's mean.
    low = -math.inf if lower is None else (lower - mean) / sd
    high = math.inf if upper is None else (upper - mean) / sd
    shared = shared_u / sd
    if math.isfinite(low) and math.isfinite(high):
        return _between(low, high, n, content, shared)
    limit = high if math.isfinite(high) else -low
    z = NormalDist().inv_cdf(content)

    def conforms(scatter: Floats) -> Floats:
        return (limit * scatter - z) / np.sqrt((shared * scatter) ** 2 + 1.0 / n)

    scatter, weights = scatter_nodes(n - 1)
    return float(np.clip(weights @ _ndtr(conforms(scatter)), 0.0, 1.0))


def tolerance_factor(
    n: int, *, content: float, confidence: float, sides: int = 2, shared: float = 0.0
) -> float:
    """Factor k: with ``confidence``, mean ± k sd of a sample holds ``content`` of its population.

    Parameters
    ----------
    n : int
        Size of the sample.
    content, confidence : float
        Between 0 and 1.
    sides : int
        2 for an interval, 1 for mean + k sd (or mean - k sd) alone.
    shared : float
        Standard uncertainty of an error that all values share, in units of the sample's sd.

    Raises
    ------
    UsageError
        If a parameter is out of range.

    References
    ----------
    ISO 16269-6:2014, annexes; NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3.
    """
    _check_sample(n, 1.0, shared)
    _check_share(content, "content")
    _check_share(confidence, "confidence")
    if sides not in (1, 2):
        raise UsageError(f"{sides!r} sides came, 1 or 2 is wanted", hint="2 is an interval")

    def missing(k: float) -> float:
        lower = -k if sides == 2 else None
        return confidence - content_confidence(
            mean=0.0, sd=1.0, n=n, content=content, lower=lower, upper=k, shared_u=shared
        )

    low, high = (1e-6 if sides == 2 else -1.0), 1.0
    while missing(low) < 0.0 and sides == 1:
        low *= 2.0
    while missing(high) > 0.0:
        low, high = high, 2.0 * high
        if high > 1e9:
            raise UsageError(
                "no finite factor reaches this confidence", hint="take a larger sample"
            )
    return _root(missing, low, high)


def tolerance_interval(
    *,
    mean: float,
    sd: float,
    n: int,
    content: float,
    confidence: float,
    sides: int = 2,
    shared_u: float = 0.0,
) -> tuple[float, float]:
    """Ends of mean ± k sd [unit]; with one side each end is a limit by itself.

    Parameters
    ----------
    mean, sd, n, content, shared_u
        As in `content_confidence`.
    confidence, sides
        As in `tolerance_factor`.
    """
    if sd == 0.0:
        _check_sample(n, sd, shared_u)
        share = 0.5 + 0.5 * confidence if sides == 2 else confidence
        half = shared_u * NormalDist().inv_cdf(share)
    else:
        half = sd * tolerance_factor(
            n, content=content, confidence=confidence, sides=sides, shared=shared_u / sd
        )
    return mean - half, mean + half


def _root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function is zero, by the false position with its idle end halved (Illinois).

    G. Dahlquist, A. Bjorck, Numerical Methods (1974), 6.4.4.
    """
    at_low, at_high = falling(low), falling(high)
    side = 0
    for _ in range(100):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        value = falling(middle)
        if abs(high - low) < 1e-10 * (1.0 + abs(middle)) or abs(value) < 1e-12:
            break
        if value > 0.0:
            low, at_low = middle, value
            at_high *= 0.5 if side > 0 else 1.0
            side = 1
        else:
            high, at_high = middle, value
            at_low *= 0.5 if side < 0 else 1.0
            side = -1
    return middle


def _between(low: float, high: float, n: int, content: float, shared: float) -> float:
    """Confidence between two limits, in units of the sample's sd from its mean."""
    half, middle = 0.5 * (high - low), 0.5 * (high + low)
    # With less scatter than this the population is too wide for the limits wherever it lies.
    least = NormalDist().inv_cdf(0.5 + 0.5 * content) / half
    scatter, weights = scatter_nodes(n - 1, least)
    if scatter.size == 0:
        return 0.0
    reach = _most_shift(half * scatter, content)
    u = np.sqrt((shared * scatter) ** 2 + 1.0 / n)
    inside = _ndtr((middle * scatter + reach) / u) - _ndtr((middle * scatter - reach) / u)
    return float(np.clip(weights @ inside, 0.0, 1.0))


def _most_shift(half: Floats, content: float) -> Floats:
    """How far a standard normal population may lie off the middle of ±half and still have content.

    The x >= 0 of Phi(half + x) + Phi(half - x) - 1 = content, by bisection.
    """
    low, high = np.zeros_like(half), np.maximum(half - NormalDist().inv_cdf(content), 0.0)
    for _ in range(48):
        x = 0.5 * (low + high)
        held = _ndtr(half + x) + _ndtr(half - x) - 1.0 >= content
        low, high = np.where(held, x, low), np.where(held, high, x)
    return low


@lru_cache(maxsize=64)
def scatter_nodes(dof: float, least: float = 0.0) -> tuple[Floats, Floats]:
    """Nodes and weights for the mean over sqrt(chi^2/dof) of a function that is 0 below ``least``.

    At ``least`` the function may rise like a square root; in t^2 = scatter - least it is smooth.
    """
    width = _REACH / math.sqrt(dof)
    low, high = max(least, 1.0 - width, 0.0), 1.0 + width
    if low >= high:
        return np.empty(0), np.empty(0)
    nodes, weights = _rule()
    edges = np.linspace(0.0, math.sqrt(high - low), _PIECES + 1)
    half, middle = 0.5 * np.diff(edges), 0.5 * (edges[1:] + edges[:-1])
    t = (middle[:, None] + half[:, None] * nodes).ravel()
    scatter = low + t * t
    measure = 2.0 * t * (half[:, None] * weights).ravel()
    log_density = (math.log(2.0) + 0.5 * dof * math.log(0.5 * dof) - math.lgamma(0.5 * dof)) + (
        (dof - 1.0) * np.log(scatter) - 0.5 * dof * scatter**2
    )
    return scatter, measure * np.exp(log_density)


@cache
def _rule() -> tuple[Floats, Floats]:
    return np.polynomial.legendre.leggauss(_NODES)


def _of_a_point(mean: float, u: float, lower: float | None, upper: float | None) -> float:
    if u == 0.0:
        return float((lower is None or mean >= lower) and (upper is None or mean <= upper))
    law = NormalDist(mean, u)
    below = 0.0 if lower is None else law.cdf(lower)
    return (1.0 if upper is None else law.cdf(upper)) - below


def _ndtr(z: Floats) -> Floats:
    # Imported here: only samples of a lot need it.
    from scipy.special import ndtr

    normal: Callable[[Floats], Floats] = ndtr
    return normal(z)


def _check_sample(n: int, sd: float, shared_u: float) -> None:
    if n < 2:
        raise UsageError(f"a sample of {n} came", hint="its scatter wants two or more")
    for spread in (sd, shared_u):
        if not (math.isfinite(spread) and spread >= 0.0):
            raise UsageError(
                f"a spread of {spread!r} came, a finite number of at least 0 is wanted"
            )


def _check_share(share: float, name: str) -> None:
    if not 0.0 < share < 1.0:
        raise UsageError(
            f"{name}: {share!r} came, a number between 0 and 1 is wanted", hint="95 % is 0.95"
        )
