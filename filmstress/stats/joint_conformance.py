"""Probability that several uncertain quantities that share inputs all keep within limits."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError
from filmstress.records.budget import Budget, Term
from filmstress.stats.budget import combine, merge_shared
from filmstress.stats.student import t_cdf_of

Floats = NDArray[np.float64]

_TURNS = np.array(
    [-9.0, -6.0, -4.0, -3.0, -2.0, -1.0, -0.5, 0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 9.0]
)
_REACH = 9.0
_NODES = 8


def joint_conformance(
    values: Sequence[float],
    items: Sequence[Sequence[Term]],
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> float:
    """Probability that every one of several quantities lies within the same limits.

    Parameters
    ----------
    values : sequence of float
        Measured values [unit].
    items : sequence of sequences of Term
        Terms of each value; those of equal ``input`` and ``common_to`` in several of them are one
        quantity.
    lower, upper : float or None
        Limits [unit]; at least one.

    Raises
    ------
    UsageError
        Without a value or a limit.

    Notes
    -----
    The effects of all shared inputs are a matrix, one row a quantity.  Given the coefficient of its
    first singular vector the quantities are taken as independent, and the probability is the mean
    of their product over that coefficient.  It is exact where the shared effects are in proportion
    (a modulus, a scale, a thickness on quantities of any size); what they deviate from it counts
    with each quantity's own uncertainty.  For quantities that fall or rise together this
    independence does not overstate the probability (Slepian 1962, doi:10.1002/j.1538-7305.1962
    .tb02419.x; Šidák 1967, doi:10.1080/01621459.1967.10482935).
    """
    if not values or len(values) != len(items):
        raise UsageError(f"{len(values)} values came", hint="pass one or more, with their terms")
    if lower is None and upper is None:
        raise UsageError("no limit came, at least one is wanted", hint="pass lower or upper")
    common, own = common_and_own(items)
    y = np.asarray(values, dtype=np.float64)
    u = np.array([budget.u for budget in own])
    dof = np.array([budget.dof for budget in own])
    low = np.full_like(y, -np.inf) if lower is None else lower - y
    high = np.full_like(y, np.inf) if upper is None else upper - y
    # A value without uncertainty gets one that is no matter.
    gaps = np.abs(np.concatenate([low, high]))
    size = float(np.max(np.concatenate([u, np.abs(common), gaps[np.isfinite(gaps)], [1e-300]])))
    u = np.maximum(u, 1e-9 * size)
    x, weights = _nodes(common, u, low, high)
    inside = t_cdf_of((high - np.outer(x, common)) / u, dof)
    inside -= t_cdf_of((low - np.outer(x, common)) / u, dof)
    return float(np.clip(weights @ np.prod(np.maximum(inside, 0.0), axis=1), 0.0, 1.0))


def common_and_own(items: Sequence[Sequence[Term]]) -> tuple[Floats, list[Budget]]:
    """The effect on each quantity of what moves them all, and the budget of the rest of each.

    Returns
    -------
    common : ndarray, shape (n,)
        Signed, for one standard deviation of the common cause [unit of output].
    own : list of Budget
    """
    merged = [merge_shared(terms) for terms in items]
    count = Counter(_name(one) for terms in merged for one in terms if one.common_to)
    names = [name for name, times in count.items() if times > 1]
    effects = np.zeros((len(merged), max(len(names), 1)))
    column = {name: i for i, name in enumerate(names)}
    for i, terms in enumerate(merged):
        for one in terms:
            if _name(one) in column:
                effects[i, column[_name(one)]] = one.sensitivity * one.u
    left, sizes, _ = np.linalg.svd(effects, full_matrices=False)
    common: Floats = left[:, 0] * sizes[0]
    rest = np.sqrt(np.maximum((effects**2).sum(axis=1) - common**2, 0.0))
    own = []
    for terms, deviation in zip(merged, rest.tolist(), strict=True):
        alone = [one for one in terms if _name(one) not in column]
        if alone or deviation:
            model = alone[0] if alone else terms[0]
            alone.append(replace(model, u=deviation, sensitivity=1.0, dof=math.inf, common_to=""))
        own.append(combine(alone))
    return common, own


def _name(one: Term) -> tuple[str, str]:
    return one.input, one.common_to


def _nodes(common: Floats, u: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Places and normal weights, finer where a quantity passes a limit."""
    breaks = [_TURNS]
    moving = np.abs(common) > 1e-12 * np.max(np.abs(common), initial=0.0)
    for edge in (low, high):
        there = moving & np.isfinite(edge)
        passing, width = edge[there] / common[there], u[there] / np.abs(common[there])
        breaks.append((passing[:, None] + width[:, None] * _TURNS).ravel())
    edges = np.unique(np.clip(np.concatenate(breaks), -_REACH, _REACH))
    nodes, weights = np.polynomial.legendre.leggauss(_NODES)
    half, middle = 0.5 * np.diff(edges), 0.5 * (edges[1:] + edges[:-1])
    x = (middle[:, None] + half[:, None] * nodes).ravel()
    density = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    return x, (half[:, None] * weights).ravel() * density
