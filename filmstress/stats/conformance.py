"""Probability that a measured quantity conforms to its limits, and the decisions drawn from it.

The measured value and its uncertainty describe what the quantity may be (a normal distribution,
or a scaled t where the uncertainty rests on few degrees of freedom), with nothing assumed about
the process it came from; only `global_risks` takes the process into account.

References
----------
JCGM 106:2012, Evaluation of measurement data: The role of measurement uncertainty in conformity
assessment.  ISO 14253-1:2017 for the default confidence of 95 %.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from filmstress.errors import UsageError
from filmstress.stats.coverage import t_cdf, t_factor

_BULK = (-9.0, -5.0, -2.0, 0.0, 2.0, 5.0, 9.0)
"""Pieces that hold all but 2e-19 of a standard normal distribution."""


class Decision(StrEnum):
    """Outcome for one value against its limits."""

    ACCEPTED = "accepted"
    REJECTED = "rejected"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Risks:
    """Global risks of a decision rule (JCGM 106:2012, 9.5).

    Attributes
    ----------
    consumer : float
        Probability that an item is out of its limits and accepted all the same.
    producer : float
        Probability that an item is within its limits and rejected all the same.
    """

    consumer: float
    producer: float


def conformance_probability(
    value: float,
    *,
    u: float,
    dof: float = math.inf,
    lower: float | None = None,
    upper: float | None = None,
) -> float:
    """Probability that the quantity lies within its limits, given its measurement.

    Parameters
    ----------
    value, u : float
        Measured value and its standard uncertainty [unit]; with ``u`` = 0 the answer is 0 or 1,
        a value on a limit conforms.
    dof : float
        Degrees of freedom of ``u``; infinite means a normal distribution, otherwise the quantity
        is taken as ``value + u T`` (JCGM 101:2008, 6.4.9).
    lower, upper : float or None
        Limits [unit], None where there is none on that side; at least one.

    Raises
    ------
    UsageError
        If there is no limit, if the limits are in the wrong order, or ``u`` is negative.

    References
    ----------
    JCGM 106:2012, clause 7.
    """
    _check_limits(lower, upper)
    _check_uncertainty(u)
    to_lower = -math.inf if lower is None else lower - value
    to_upper = math.inf if upper is None else upper - value
    if u == 0.0:
        return 1.0 if to_lower <= 0.0 <= to_upper else 0.0
    return _between(to_lower / u, to_upper / u, dof)


def decide(probability: float, confidence: float = 0.95) -> Decision:
    """Turn a probability of conformance into a decision.

    Accepted at ``probability`` >= ``confidence``, rejected at <= 1 - ``confidence``, otherwise
    undecided: the measurement cannot carry either.

    Raises
    ------
    UsageError
        If ``confidence`` is not between 0.5 and 1, or ``probability`` not from 0 to 1.
    """
    _check_confidence(confidence)
    if not 0.0 <= probability <= 1.0:
        raise UsageError(
            f"a probability of {probability!r} came, a number from 0 to 1 is wanted",
            hint="take it from conformance_probability",
        )
    if probability >= confidence:
        return Decision.ACCEPTED
    # 1 - 0.95 is a little more than 0.05: rounded, so that both ends are treated alike.
    if probability <= round(1.0 - confidence, 12):
        return Decision.REJECTED
    return Decision.UNDECIDED


def guard_band(u: float, *, dof: float = math.inf, confidence: float = 0.95) -> float:
    """Distance to keep from a limit [unit of u] for the quantity to conform with ``confidence``.

    It is t(confidence, one-sided) u, which supposes that the other limit is far away (many u);
    `acceptance_interval` does not suppose it.
    """
    _check_uncertainty(u)
    _check_confidence(confidence)
    return u * t_factor(2.0 * confidence - 1.0, dof)


def acceptance_interval(
    *,
    u: float,
    dof: float = math.inf,
    lower: float | None = None,
    upper: float | None = None,
    confidence: float = 0.95,
) -> tuple[float | None, float | None] | None:
    """Measured values that are accepted: the limits drawn in by the guard band, both tails counted.

    Returns
    -------
    (low, high) or None
        None in place of an end that has no limit; None altogether where ``u`` is too large for
        any value to be accepted.
    """
    _check_limits(lower, upper)
    band = guard_band(u, dof=dof, confidence=confidence)
    if lower is None or upper is None:
        return (
            None if lower is None else lower + band,
            None if upper is None else upper - band,
        )
    middle, half = 0.5 * (lower + upper), 0.5 * (upper - lower)

    def conforms(offset: float) -> bool:
        chance = conformance_probability(middle + offset, u=u, dof=dof, lower=lower, upper=upper)
        return chance >= confidence

    if not conforms(0.0):
        return None
    # One tail alone asks for the band: the edge lies no farther out than half - band.
    inside, outside = 0.0, max(half - band, 0.0)
    if conforms(outside):
        inside = outside
    for _ in range(80):
        offset = 0.5 * (inside + outside)
        inside, outside = (offset, outside) if conforms(offset) else (inside, offset)
    return middle - inside, middle + inside


def global_risks(
    *,
    process_mean: float,
    process_sd: float,
    u: float,
    lower: float | None = None,
    upper: float | None = None,
    accept_low: float | None = None,
    accept_high: float | None = None,
) -> Risks:
    """Risks of a decision rule over all items of a normally distributed process.

    Correct to 1e-12 absolute.

    Parameters
    ----------
    process_mean, process_sd : float
        Of the true values of the items [unit].
    u : float
        Standard uncertainty of one measurement [unit], normal.
    lower, upper : float or None
        Limits of the specification [unit].
    accept_low, accept_high : float or None
        Measured values between these are accepted [unit], None is unbounded on that side; pass
        the result of `acceptance_interval`, or the limits themselves for no guard band.

    Raises
    ------
    UsageError
        If ``process_sd`` or ``u`` is not positive, or limits are missing or in the wrong order.

    References
    ----------
    JCGM 106:2012, 9.5 (the integrals there, over a normal process).
    """
    _check_limits(lower, upper)
    _check_limits(accept_low, accept_high)
    for spread in (process_sd, u):
        if not (math.isfinite(spread) and spread > 0.0):
            raise UsageError(
                f"a spread of {spread!r} came, a finite number above 0 is wanted",
                hint="process_sd is the scatter of the items, u that of their measurement",
            )

    # In units of the process spread, which keeps the integrand of order 1 in any unit.
    def reduced(limit: float | None, unbounded: float) -> float:
        return unbounded if limit is None else (limit - process_mean) / process_sd

    ratio = process_sd / u
    spec = (reduced(lower, -math.inf), reduced(upper, math.inf))
    gate = (reduced(accept_low, -math.inf), reduced(accept_high, math.inf))
    # The chance of being accepted turns from 0 to 1 within a few u of a gate and the specification
    # cuts sharply: between these places the integrand is smooth and Gauss's rule exact.
    turns = (limit + step / ratio for limit in gate for step in (-8.0, -3.0, 0.0, 3.0, 8.0))
    cuts = sorted({*_BULK, *(x for x in (*spec, *turns) if _BULK[0] < x < _BULK[-1])})
    nodes, weights = np.polynomial.legendre.leggauss(40)
    consumer = producer = 0.0
    for a, b in pairwise(cuts):
        middle, half = 0.5 * (a + b), 0.5 * (b - a)
        within = spec[0] <= middle <= spec[1]
        for node, weight in zip(nodes, weights, strict=True):
            z = middle + half * float(node)
            density = half * float(weight) * math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
            low, high = (gate[0] - z) * ratio, (gate[1] - z) * ratio
            if within:
                producer += density * (_normal(low) + _normal(-high))
            else:
                consumer += density * _between(low, high, math.inf)
    return Risks(consumer, producer)


def _between(low: float, high: float, dof: float) -> float:
    """P(low <= T <= high); on one side of 0 as a difference of tails, which keeps small ones."""
    if low > 0.0:
        return max(t_cdf(-low, dof) - t_cdf(-high, dof), 0.0)
    if high < 0.0:
        return max(t_cdf(high, dof) - t_cdf(low, dof), 0.0)
    return max(1.0 - t_cdf(low, dof) - t_cdf(-high, dof), 0.0)


def _normal(z: float) -> float:
    return t_cdf(z, math.inf)


def _check_limits(lower: float | None, upper: float | None) -> None:
    if lower is None and upper is None:
        raise UsageError("no limit came, at least one is wanted", hint="pass lower or upper")
    for limit in (lower, upper):
        if limit is not None and not math.isfinite(limit):
            raise UsageError(
                f"a limit of {limit!r} came, a finite number is wanted",
                hint="pass None where there is no limit on that side",
            )
    if lower is not None and upper is not None and lower > upper:
        raise UsageError(
            f"the lower limit {lower!r} lies above the upper limit {upper!r}",
            hint="exchange them; of negative limits, -250 is the lower and -150 the upper",
        )


def _check_uncertainty(u: float) -> None:
    if not (math.isfinite(u) and u >= 0.0):
        raise UsageError(
            f"a standard uncertainty of {u!r} came, a finite number of at least 0 is wanted",
            hint="nothing can be decided where the uncertainty is not known",
        )


def _check_confidence(confidence: float) -> None:
    if not 0.5 < confidence < 1.0:
        raise UsageError(
            f"a confidence of {confidence!r} came, a number between 0.5 and 1 is wanted",
            hint="write 0.95 for 95 %",
        )
