"""Capability: how a process's spread and place compare with its limits, with intervals.

A capability from a few lots is known poorly: 1.33 from 20 values may be 0.9 or 1.8.  What counts
for a decision is the lower end of the interval.

References
----------
ISO 22514-2, Statistical methods in process management - Capability and performance - Part 2.
NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6, doi:10.18434/M32189.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.coverage import t_cdf, t_factor
from filmstress.stats.process_spread import Process, SpreadKind
from filmstress.stats.variance_components.mean_squares import generalised_draws
from filmstress.stats.variance_components.records import Components

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Index:
    """A capability index with its intervals.

    Attributes
    ----------
    name : str
        "Cp", "Cpk", "Pp", "Ppk".
    value : float
        Its estimate.
    low, high : float
        Two-sided interval.
    at_least : float
        One-sided lower bound of the same probability: what can be claimed.
    method : str
        How the interval was found: "chi-square", "noncentral t" (both exact for independent normal
        items), "Bissell" (approximate), "generalised" (lots: close, not exact).
    """

    name: str
    value: float
    low: float
    high: float
    at_least: float
    method: str


@dataclass(frozen=True, slots=True)
class Capability:
    """Indices of one process against its limits.

    Attributes
    ----------
    process : Process
        What they rest on.
    potential : Index or None
        Width of the limits over six sigma (Cp or Pp); None for a single limit.
    actual : Index
        Distance of the mean from the nearer limit over three sigma (Cpk or Ppk).
    outside : float
        Share of a normal process of this mean and sigma beyond its limits.
    p : float
        Coverage probability of the intervals.
    """

    process: Process
    potential: Index | None
    actual: Index
    outside: float
    p: float


def capability(
    process: Process,
    *,
    lower: float | None = None,
    upper: float | None = None,
    p: float = 0.95,
) -> Capability:
    """Capability indices of a process with intervals.

    Parameters
    ----------
    process : Process
        From one of the functions here; raw and net of measurement give one capability each.
    lower, upper : float or None
        Limits of the specification [unit], at least one.
    p : float
        Coverage probability.

    Raises
    ------
    UsageError
        If limits are missing or in the wrong order, or ``p`` is out of range.
    RefusedInput
        If ``sigma`` has less than one degree of freedom: the interval would be without meaning.

    Notes
    -----
    Potential: chi-square.  Actual, one limit: 3 sqrt(n) times the index is noncentral t, inverted;
    two limits: normal approximation, C +- z sqrt(1 / (9 n) + C^2 / (2 dof)) (Bissell), for some
    20 items or more.  n is the number of independent items that would know the mean as well.
    Nested data from an analysis of variance: generalised intervals from its mean squares, for
    which few lots count as few.  Net of measurement, n and dof are effective ones.  All for a
    normal, stable process: look at the control chart first.

    References
    ----------
    A. F. Bissell, Appl. Stat. 39 (1990) 331, doi:10.2307/2347383.
    S. Weerahandi, J. Am. Stat. Assoc. 88 (1993) 899, doi:10.1080/01621459.1993.10476355.
    """
    if lower is None and upper is None:
        raise UsageError("no limit came, at least one is wanted", hint="pass lower or upper")
    if lower is not None and upper is not None and not lower < upper:
        raise UsageError(
            f"the lower limit {lower!r} does not lie below the upper limit {upper!r}",
            hint="exchange them; of negative limits, -250 is the lower and -150 the upper",
        )
    if process.dof < 1.0:
        raise RefusedInput(
            f"the spread is known with {process.dof:.2g} degrees of freedom only, at least 1 is"
            " wanted",
            hint="more lots are wanted",
        )
    letter = "C" if process.kind is SpreadKind.WITHIN else "P"
    limits = (-math.inf if lower is None else lower, math.inf if upper is None else upper)
    rooms = (process.mean - limits[0], limits[1] - process.mean)
    value = min(rooms) / (3.0 * process.sigma)
    potential = None
    two_sided = lower is not None and upper is not None
    ratio = (limits[1] - limits[0]) / (6.0 * process.sigma)
    if process.components is not None and process.components.table:
        mean, sigma = _draws(process, process.components)
        actual = _generalised(f"{letter}pk", value, _nearer(limits, mean) / (3.0 * sigma), p)
        if two_sided:
            across = (limits[1] - limits[0]) / (6.0 * sigma)
            potential = _generalised(f"{letter}p", ratio, across, p)
    elif two_sided:
        potential = _potential(f"{letter}p", ratio, process, p)
        actual = _bissell(f"{letter}pk", value, process, p)
    else:
        actual = _one_sided(f"{letter}pk", value, process, p)
    outside = sum(t_cdf(-room / process.sigma, math.inf) for room in rooms)
    return Capability(process, potential, actual, outside, p)


def _potential(name: str, value: float, process: Process, p: float) -> Index:
    from scipy.special import chdtri

    def end(upper_tail: float) -> float:
        return value * math.sqrt(float(chdtri(process.dof, upper_tail)) / process.dof)

    half = 0.5 * (1.0 - p)
    return Index(name, value, end(1.0 - half), end(half), end(p), "chi-square")


def _bissell(name: str, value: float, process: Process, p: float) -> Index:
    error = math.sqrt(1.0 / (9.0 * process.count) + value**2 / (2.0 * process.dof))
    two, one = t_factor(p, math.inf), t_factor(2.0 * p - 1.0, math.inf) if p > 0.5 else 0.0
    return Index(
        name, value, value - two * error, value + two * error, value - one * error, "Bissell"
    )


def _one_sided(name: str, value: float, process: Process, p: float) -> Index:
    from scipy.optimize import brentq
    from scipy.stats import nct

    scale = 3.0 * math.sqrt(process.count)

    def end(probability: float) -> float:
        """Index for which one as small as this is found with that probability."""

        def miss(c: float) -> float:
            return float(nct.cdf(scale * value, process.dof, scale * c)) - probability

        step = 1.0 / scale + abs(value) / math.sqrt(process.dof)
        low, high = value - step, value + step
        while miss(low) < 0.0:
            low -= step
        while miss(high) > 0.0:
            high += step
        return float(brentq(miss, low, high, xtol=1e-10))

    half = 0.5 * (1.0 - p)
    return Index(name, value, end(1.0 - half), end(half), end(p), "noncentral t")


def _draws(process: Process, found: Components) -> tuple[Floats, Floats]:
    """What mean and sigma may be, given the mean squares of nested data."""
    squares, normal = generalised_draws(found.table)
    inverse = np.linalg.inv(np.array([row.expected for row in found.table]))
    parts = np.maximum(inverse[list(process.chosen)] @ squares, 0.0)
    net = np.maximum(parts.sum(axis=0) - process.removed_u**2, 0.0)
    # The outermost mean square is what the mean scatters by (exactly, for equal numbers).
    mean_u = found.mean_u * np.sqrt(squares[0] / found.table[0].mean_square)
    # A spread of nothing: as narrow as can be told from it, and the index as large.
    sigma = np.maximum(np.sqrt(net), 1e-6 * process.sigma)
    return process.mean + normal * mean_u, sigma


def _nearer(limits: tuple[float, float], mean: Floats) -> Floats:
    return np.minimum(mean - limits[0], limits[1] - mean)


def _generalised(name: str, value: float, draws: Floats, p: float) -> Index:
    ends = np.quantile(draws, [0.5 * (1.0 - p), 0.5 * (1.0 + p), 1.0 - p])
    low, high, at_least = (float(one) for one in ends)
    return Index(name, value, low, high, at_least, "generalised")
