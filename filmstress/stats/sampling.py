"""Acceptance sampling by variables: how large a sample, and how far from a limit.

A lot is accepted where (limit - mean)/sd of a sample is at least k.  Two points of the operating
characteristic fix k and the sample: a lot with the acceptable share of nonconforming items is
refused at most with the producer's risk, one with the rejectable share accepted at most with the
consumer's risk.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from filmstress.errors import UsageError
from filmstress.stats.tolerance import scatter_nodes, tolerance_factor

MOST = 500


@dataclass(frozen=True, slots=True)
class Plan:
    """A sampling plan for one limit.

    Attributes
    ----------
    n : int
        Items to measure.
    k : float
        Least distance of their mean from the limit, in units of their standard deviation.
    """

    n: int
    k: float


def variables_plan(
    *,
    acceptable: float,
    producer_risk: float,
    rejectable: float,
    consumer_risk: float,
    shared: float = 0.0,
) -> Plan | None:
    """The smallest plan through two points of the operating characteristic.

    Parameters
    ----------
    acceptable : float
        Share of nonconforming items (an AQL) that is to be accepted ...
    producer_risk : float
        ... all but this often.
    rejectable : float
        Share of nonconforming items (a limiting quality) that is to be accepted ...
    consumer_risk : float
        ... at most this often.  k is the least that keeps this risk exactly.
    shared : float
        Standard uncertainty of an error that all measurements share, in units of the items'
        standard deviation; k is then for a sample of just that standard deviation.

    Returns
    -------
    Plan or None
        None where no sample of `MOST` or fewer is enough: a shared error does not average away.

    Raises
    ------
    UsageError
        If a share or a risk is not between 0 and 1, or acceptable is not below rejectable.

    References
    ----------
    G. J. Lieberman, G. J. Resnikoff, J. Am. Stat. Assoc. 50 (1955) 457,
    doi:10.1080/01621459.1955.10501276 (noncentral t).  The idea, not the tables, of
    ISO 3951-1:2022: those start from an AQL and a code letter.
    """
    for share in (acceptable, producer_risk, rejectable, consumer_risk):
        if not 0.0 < share < 1.0:
            raise UsageError(
                f"{share!r} came, a number between 0 and 1 is wanted", hint="1 % is 0.01"
            )
    if acceptable >= rejectable:
        raise UsageError(
            "the acceptable share is not below the rejectable one",
            hint="lots between the two may be accepted or not",
        )

    def good(n: int) -> bool:
        accepted = acceptance_probability(
            n,
            nonconforming=acceptable,
            rejectable=rejectable,
            consumer_risk=consumer_risk,
            shared=shared,
        )
        return accepted >= 1.0 - producer_risk

    low, high = 1, 2
    while not good(high):
        low, high = high, 2 * high
        if low >= MOST:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if good(middle) else (middle, high)
    if high > MOST:
        return None
    k = tolerance_factor(
        high, content=1.0 - rejectable, confidence=1.0 - consumer_risk, sides=1, shared=shared
    )
    return Plan(high, k)


def acceptance_probability(
    n: int, *, nonconforming: float, rejectable: float, consumer_risk: float, shared: float = 0.0
) -> float:
    """Probability that a lot is accepted: the operating characteristic.

    Parameters
    ----------
    n : int
        Items measured.
    nonconforming : float
        Share of the lot's items beyond the limit.
    rejectable, consumer_risk : float
        What the rule holds against: k is set by them.
    shared : float
        As in `variables_plan`.

    Notes
    -----
    Without a shared error it is P(t' >= k sqrt(n)), t' noncentral with n - 1 degrees of freedom and
    noncentrality z sqrt(n).  With one, k grows as the sample's own scatter shrinks, and the
    probability is its mean over that scatter.
    """
    from scipy.special import ndtr

    z = NormalDist().inv_cdf(1.0 - nonconforming)
    scatter, weights = scatter_nodes(n - 1)

    def factor(relative: float) -> float:
        return tolerance_factor(
            n, content=1.0 - rejectable, confidence=1.0 - consumer_risk, sides=1, shared=relative
        )

    if shared == 0.0:
        needed = factor(0.0) * scatter
    else:
        # k sd as a function of the scatter is smooth: a few places carry it.
        places = np.linspace(scatter[0], scatter[-1], 25)
        places[0] = max(places[0], 1e-3 * places[-1])
        needed = np.interp(scatter, places, [factor(shared / at) * at for at in places])
    return float(weights @ ndtr((z - needed) / math.sqrt(shared**2 + 1.0 / n)))
