"""How far several uncertain quantities lie apart: the probability that they keep within a limit."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError
from filmstress.records.budget import Budget, Term
from filmstress.stats.budget import combine
from filmstress.stats.student import t_cdf_of

Floats = NDArray[np.float64]

# Breaks between pieces of the integral, in standard uncertainties about each value; t tails reach
# farther than normal ones.
_TURNS = np.array([0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 9.0, 20.0, 60.0])
_NODES = 6


def range_probability(values: Sequence[float], budgets: Sequence[Budget], *, limit: float) -> float:
    """Probability that the largest of independent quantities is within ``limit`` of the least.

    Parameters
    ----------
    values : sequence of float
        Measured values [unit], two or more.
    budgets : sequence of Budget
        Standard uncertainty [unit] and degrees of freedom of each; the quantity is taken as
        ``value + u T`` (JCGM 101:2008, 6.4.9).
    limit : float
        [unit], above 0.

    Returns
    -------
    float
        Correct to 1e-5.  For equal values and uncertainties it is the distribution function of
        the studentized range with infinite degrees of freedom (Tukey).

    Raises
    ------
    UsageError
        For fewer than two values, or a limit that is not above 0.

    Notes
    -----
    The least is quantity i, at x, and all others lie between x and x + L (Hartley 1942,
    doi:10.1093/biomet/32.3-4.334, for equal distributions)::

        P = sum_i integral f_i(x) prod_(j != i) [F_j(x + L) - F_j(x)] dx
    """
    if len(values) < 2 or len(values) != len(budgets):
        raise UsageError(f"{len(values)} values came", hint="a range wants two or more")
    if not (math.isfinite(limit) and limit > 0.0):
        raise UsageError(f"a limit of {limit!r} came, a finite number above 0 is wanted")
    # In units of the limit, from the mean; a value without uncertainty gets one that is no matter.
    y = (np.asarray(values, dtype=np.float64) - np.mean(values)) / limit
    u = np.maximum(np.array([budget.u for budget in budgets]) / limit, 1e-9)
    dof = np.array([budget.dof for budget in budgets])
    x, weights = _nodes(y, u)
    low = (x[:, None] - y) / u
    inside = t_cdf_of(low + 1.0 / u, dof) - t_cdf_of(low, dof)
    others = _products_of_others(inside)
    density = _pdf(low, dof) / u
    return float(np.clip(weights @ (density * others).sum(axis=1), 0.0, 1.0))


def independent_parts(items: Sequence[Sequence[Term]]) -> tuple[Budget, ...]:
    """Budgets of several outputs as if independent, for their differences.

    Terms of equal ``input`` and ``common_to`` that several outputs share are one quantity; only
    the deviation of each output's contribution from their mean makes a difference.  It is taken
    sqrt(2) times: the variance of the difference of two outputs is then exact for two outputs, and
    never too small for more, by (a - b)^2 <= 2 a^2 + 2 b^2.

    Parameters
    ----------
    items : sequence of sequences of Term
        Terms of each output; those of its own have a ``common_to`` of its own, or none.
    """
    count = Counter(_name(one) for terms in items for one in terms if one.common_to)
    shared = {name for name, times in count.items() if times > 1}
    effects: dict[tuple[str, str], list[float]] = {name: [0.0] * len(items) for name in shared}
    for i, terms in enumerate(items):
        for one in terms:
            if _name(one) in shared:
                effects[_name(one)][i] += one.sensitivity * one.u
    parts = []
    for i, terms in enumerate(items):
        own = [one for one in terms if _name(one) not in shared]
        for one in {_name(one): one for terms in items for one in terms}.values():
            if _name(one) in shared:
                contributions = effects[_name(one)]
                deviation = contributions[i] - math.fsum(contributions) / len(items)
                own.append(replace(one, u=abs(deviation), sensitivity=math.sqrt(2.0)))
        parts.append(combine(own))
    return tuple(parts)


def _name(one: Term) -> tuple[str, str]:
    return one.input, one.common_to


def _nodes(y: Floats, u: Floats) -> tuple[Floats, Floats]:
    """Places and weights of a Gauss rule over pieces in which every factor is smooth."""
    turns = np.concatenate([-_TURNS[:0:-1], _TURNS])
    breaks = (y[:, None] + u[:, None] * turns).ravel()
    edges: Floats = np.unique(np.concatenate([breaks, breaks - 1.0]))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    half, middle = 0.5 * np.diff(edges), 0.5 * (edges[1:] + edges[:-1])
    return (middle[:, None] + half[:, None] * nodes).ravel(), (half[:, None] * weights).ravel()


def _products_of_others(factors: Floats) -> Floats:
    """For each column, the product of all other columns."""
    ones = np.ones((factors.shape[0], 1))
    before = np.cumprod(np.hstack([ones, factors[:, :-1]]), axis=1)
    after = np.cumprod(np.hstack([ones, factors[:, :0:-1]]), axis=1)[:, ::-1]
    return np.asarray(before * after)


def _pdf(t: Floats, dof: Floats) -> Floats:
    out = np.empty_like(t)
    for column, freedom in enumerate(dof):
        square = t[:, column] ** 2
        if math.isinf(freedom) or freedom > 1e6:
            out[:, column] = np.exp(-0.5 * square) / math.sqrt(2.0 * math.pi)
        else:
            log_norm = math.lgamma(0.5 * (freedom + 1.0)) - math.lgamma(0.5 * freedom)
            log_norm -= 0.5 * math.log(freedom * math.pi)
            log_pdf = log_norm - 0.5 * (freedom + 1.0) * np.log1p(square / freedom)
            out[:, column] = np.exp(log_pdf)
    return out
