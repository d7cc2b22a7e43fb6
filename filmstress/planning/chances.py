"""How likely a planned measurement leads to a clear decision, and what it can tell from zero."""

from __future__ import annotations

import math

import numpy as np

from filmstress.records.plan import Chances
from filmstress.stats.conformance import Decision, conformance_probability, decide
from filmstress.stats.coverage import t_factor, whole_dof

_PLACES = 401
_REACH = 6.0


def chances_of(
    true_value: float,
    *,
    u: float,
    dof: float = math.inf,
    lower: float | None,
    upper: float | None,
    confidence: float,
) -> Chances:
    """Probabilities of the three decisions on one wafer, over all that may be measured.

    The measured value scatters about the true one with ``u`` as a whole: what is systematic on
    the day is not known when planning.  Each value is decided by its probability of conformance
    (JCGM 106:2012, 7 and 8).

    Parameters
    ----------
    true_value, u, dof
        Of the stress that would be measured.
    lower, upper, confidence
        The limits, and the probability of conformance that accepts.
    """
    if u <= 0.0:
        return _certain(true_value, lower=lower, upper=upper)
    step = 2.0 * _REACH / (_PLACES - 1)
    places = np.arange(-_REACH, _REACH + 0.5 * step, step)
    weights = np.exp(-0.5 * places**2)
    weights /= weights.sum()
    sums = dict.fromkeys(Decision, 0.0)
    for place, weight in zip(places.tolist(), weights.tolist(), strict=True):
        p = conformance_probability(true_value + place * u, u=u, dof=dof, lower=lower, upper=upper)
        sums[decide(p, confidence)] += weight
    return Chances(
        accepted=sums[Decision.ACCEPTED],
        rejected=sums[Decision.REJECTED],
        undecided=sums[Decision.UNDECIDED],
    )


def _certain(value: float, *, lower: float | None, upper: float | None) -> Chances:
    inside = (lower is None or value >= lower) and (upper is None or value <= upper)
    return Chances(accepted=float(inside), rejected=float(not inside), undecided=0.0)


def least_told_from_zero(u_at_zero: float, *, dof: float = math.inf) -> float:
    """Smallest true value whose 95 % interval leaves out zero 19 times in 20.

    (k + 1.645) u at zero: the detection limit for equal chances of 5 % to be fooled either way,
    with a two-sided interval (L. A. Currie, Anal. Chem. 40 (1968) 586, doi 10.1021/ac60259a007).

    Parameters
    ----------
    u_at_zero : float
        Standard uncertainty of a stress of zero [Pa].
    dof : float
        Its degrees of freedom.
    """
    if u_at_zero == 0.0:
        return 0.0
    whole = whole_dof(dof)
    return (t_factor(0.95, whole) + t_factor(0.90, whole)) * u_at_zero
