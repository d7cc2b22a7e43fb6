"""Coverage factors and coverage intervals from Student's distribution.

Written with the standard library alone: every result needs a coverage factor, and loading a
statistics package for it would double the time to the first answer.
"""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

from filmstress.errors import UsageError
from filmstress.records.quantity import Estimate

DOF_TAKEN_AS_INFINITE = 1e6
"""Above this, k differs from the normal one by less than 5e-6 relative for p up to 0.9999."""

_GAMMA_SERIES = (1.0, -1 / 8, 1 / 128, 5 / 1024, -21 / 32768, -399 / 262144, 869 / 4194304)
_STANDARD_NORMAL = NormalDist()


def t_cdf(t: float, dof: float) -> float:
    """Probability that Student's t is at most ``t``.

    The lower tail keeps its relative accuracy (better than 1e-9); take an upper tail as
    ``t_cdf(-t, dof)``.

    Parameters
    ----------
    t : float
        Deviate [1].
    dof : float
        Degrees of freedom, whole or not, > 0; infinite means the normal distribution.

    Raises
    ------
    UsageError
        If ``dof`` is not positive or ``t`` is not a number.

    References
    ----------
    NIST Digital Library of Mathematical Functions, 8.17.4, 8.17.22 (incomplete beta function);
    M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), 26.7.1.
    """
    if math.isnan(t):
        raise UsageError("the deviate t is not a number", hint="pass a finite or infinite float")
    _check_dof(dof, least=0.0)
    half = 0.5 * _two_tails(abs(t), dof)
    return half if t < 0.0 else 1.0 - half


def t_factor(p: float, dof: float) -> float:
    """Coverage factor k with P(|T| <= k) = p, two-sided.

    Parameters
    ----------
    p : float
        Coverage probability, 0 < p < 1.
    dof : float
        Degrees of freedom, whole or not, >= 1; infinite means the normal distribution.

    Raises
    ------
    UsageError
        If ``p`` or ``dof`` is out of range.

    References
    ----------
    JCGM 100:2008 (GUM), G.3.2 and Table G.2.
    """
    _check_probability(p)
    _check_dof(dof, least=1.0)
    return _t_factor(p, dof)


@lru_cache(maxsize=1024)
def _t_factor(p: float, dof: float) -> float:
    k = -_STANDARD_NORMAL.inv_cdf(0.5 * (1.0 - p))
    if math.isinf(dof):
        return k
    # Newton on the logarithm of the tail against ln k.  That curve is concave and k starts low
    # (the normal factor is the smallest), so after one step it runs down to the root.
    log_tail = math.log1p(-p)
    for _ in range(60):
        tail = _two_tails(k, dof)
        step = (math.log(tail) - log_tail) * tail / (2.0 * k * _density(k, dof))
        k *= math.exp(step)
        if abs(step) < 1e-9:
            # Newton doubles the digits, so the step just taken left an error far below 1e-15.
            break
    return k


# Whole degrees of freedom come again and again, in a lot above all.
_kept_t_factor = lru_cache(maxsize=1024)(t_factor)


def whole_dof(dof: float) -> float:
    """Degrees of freedom truncated to the next lower whole number, at least 1 (GUM, G.4.1).

    Above a million they count as infinite.  A value that misses a whole number from below by
    rounding alone (8.999999999999) is taken as that number.

    Raises
    ------
    UsageError
        If ``dof`` is not positive.
    """
    _check_dof(dof, least=0.0)
    if dof > DOF_TAKEN_AS_INFINITE:
        return math.inf
    return max(1.0, float(math.floor(dof * (1.0 + 1e-9))))


def estimate(
    value: float, unit: str, *, u: float | None, dof: float = math.inf, p: float = 0.95
) -> Estimate:
    """Give an output quantity its coverage interval value ± k u (GUM, 7.2 and G.4).

    Parameters
    ----------
    value : float
        Best estimate [unit].
    unit : str
        SI unit symbol.
    u : float or None
        Standard uncertainty [unit]; None where it is not known: factor and interval are then
        unknown as well.
    dof : float
        Effective degrees of freedom; truncated here.
    p : float
        Coverage probability.

    Raises
    ------
    UsageError
        If ``u`` is negative or not finite, or ``dof`` or ``p`` is out of range.
    """
    _check_probability(p)
    if u is None:
        return Estimate(value, unit, None, math.inf, None, p, None, None)
    if not (math.isfinite(u) and u >= 0.0):
        raise UsageError(
            f"a standard uncertainty of {u!r} came, a finite number of at least 0 is wanted",
            hint="pass None for an uncertainty that is not known",
        )
    dof = whole_dof(dof)
    k = _kept_t_factor(p, dof)
    return Estimate(value, unit, u, dof, k, p, value - k * u, value + k * u)


def _two_tails(t: float, dof: float) -> float:
    """P(|T| > t) for t >= 0: the incomplete beta function I_x(dof/2, 1/2), x = dof/(dof + t^2)."""
    if math.isinf(dof) or math.isinf(t):
        return math.erfc(t / math.sqrt(2.0))
    if t == 0.0:
        return 1.0
    a = 0.5 * dof
    tangent = t / math.sqrt(dof)
    secant = math.hypot(1.0, tangent)
    x = 1.0 / secant**2 if secant < 1e150 else 0.0
    sine = tangent / secant
    front = math.exp(-dof * _log_secant(tangent)) * sine * _gamma_ratio(a) / math.sqrt(math.pi)
    # The continued fraction is quick on this side of the mean of the beta distribution only;
    # on the other side the tails hold more than 0.08, so the complement costs no digits.
    if x < (a + 1.0) / (a + 2.5):
        return front / a * _beta_fraction(a, 0.5, x)
    return 1.0 - front / 0.5 * _beta_fraction(0.5, a, sine**2)


def _density(t: float, dof: float) -> float:
    scale = _gamma_ratio(0.5 * dof) / math.sqrt(math.pi * dof)
    return scale * math.exp(-(dof + 1.0) * _log_secant(t / math.sqrt(dof)))


def _log_secant(tangent: float) -> float:
    """Logarithm of sqrt(1 + tangent^2), without loss near 0 and without overflow."""
    return 0.5 * math.log1p(tangent * tangent) if tangent < 1e150 else math.log(tangent)


def _gamma_ratio(a: float) -> float:
    """Gamma(a + 1/2) / Gamma(a)."""
    if a < 100.0:
        return math.gamma(a + 0.5) / math.gamma(a)
    # First terms: R. L. Graham, D. E. Knuth, O. Patashnik, Concrete Mathematics (1994), ex. 9.60.
    return math.sqrt(a) * math.fsum(c * a**-n for n, c in enumerate(_GAMMA_SERIES))


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of the incomplete beta function (DLMF 8.17.22), by Lentz's method."""
    tiny = 1e-300
    c = 1.0
    d = 1.0 / _nonzero(1.0 - (a + b) * x / (a + 1.0), tiny)
    value = d
    for m in range(1, 10_000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for coefficient in (even, odd):
            d = 1.0 / _nonzero(1.0 + coefficient * d, tiny)
            c = _nonzero(1.0 + coefficient / c, tiny)
            value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return value


def _nonzero(number: float, tiny: float) -> float:
    return number if abs(number) > tiny else tiny


def _check_probability(p: float) -> None:
    if not 0.0 < p < 1.0:
        raise UsageError(
            f"a coverage probability of {p!r} came, a number between 0 and 1 is wanted",
            hint="write 0.95 for 95 %",
        )


def _check_dof(dof: float, *, least: float) -> None:
    if not (dof >= least and dof > 0.0):
        wanted = f"a number of at least {least:g}" if least > 0.0 else "a number above 0"
        raise UsageError(
            f"degrees of freedom of {dof!r} came, {wanted} is wanted",
            hint="an infinite number stands for an uncertainty that is known for certain",
        )
