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
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.coverage import t_cdf, t_factor
from filmstress.stats.variance_components.records import Components


class SpreadKind(StrEnum):
    """Which spread an index rests on, and so its name."""

    WITHIN = "within subgroups"  # Cp, Cpk: what the process could do without shifts between them
    TOTAL = "total"  # Pp, Ppk: what it did


@dataclass(frozen=True, slots=True)
class Process:
    """Place and spread of a process, and how well they are known.

    Attributes
    ----------
    mean, mean_u : float
        Mean and its standard uncertainty [unit].
    sigma : float
        Standard deviation of one item [unit].
    dof : float
        Degrees of freedom of ``sigma``.
    kind : SpreadKind
        Which spread ``sigma`` is.
    removed_u : float
        Standard uncertainty of the measurement that was taken out of ``sigma``; 0 for the raw one.
    """

    mean: float
    mean_u: float
    sigma: float
    dof: float
    kind: SpreadKind
    removed_u: float = 0.0

    @property
    def count(self) -> float:
        """Number of independent items that would know the mean as well, (sigma / mean_u)^2."""
        return (self.sigma / self.mean_u) ** 2


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
        items), "Bissell" (approximate).
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


def process_of_values(values: ArrayLike) -> Process:
    """Process from independent items: mean and total standard deviation.

    Raises
    ------
    UsageError
        If a number is not finite.
    RefusedInput
        If fewer than two items came, or they do not scatter.

    Notes
    -----
    Wafers of one lot are not independent: take `process_of_components` of a nested analysis.
    """
    row = np.asarray(values, dtype=np.float64)
    if row.ndim != 1 or not np.isfinite(row).all():
        raise UsageError(f"values of shape {row.shape} came, a row of finite numbers is wanted")
    if len(row) < 2 or not np.ptp(row) > 0.0:
        raise RefusedInput(
            f"{len(row)} values without a spread came: a capability wants values that scatter"
        )
    sigma = float(row.std(ddof=1))
    mean_u = sigma / math.sqrt(len(row))
    return Process(float(row.mean()), mean_u, sigma, len(row) - 1.0, SpreadKind.TOTAL)


def process_of_components(
    found: Components, *, kind: SpreadKind = SpreadKind.TOTAL, leave_out: tuple[str, ...] = ()
) -> Process:
    """Process from nested data, with the degrees of freedom that lots leave.

    Parameters
    ----------
    found : Components
        From `nested_anova` or `reml_nested`.
    kind : SpreadKind
        TOTAL takes all components, WITHIN all but the outermost.
    leave_out : tuple of str
        Components that are no part of an item's spread, such as the sites on a wafer where the
        limits hold for its mean.

    Raises
    ------
    UsageError
        If a component left out is not there.
    RefusedInput
        If no spread is left.
    """
    names = [one.name for one in found.components]
    if unknown := set(leave_out) - set(names):
        raise UsageError(
            f"'{min(unknown)}' is no component of these data", hint="they are: " + ", ".join(names)
        )
    chosen = found.components[1:] if kind is SpreadKind.WITHIN else found.components
    chosen = tuple(one for one in chosen if one.name not in leave_out)
    variance = sum(one.variance for one in chosen)
    if not variance > 0.0:
        raise RefusedInput("the components chosen are all 0: there is no spread")
    if chosen == found.components:
        dof = found.total.dof
    else:
        lost = sum(one.variance**2 / one.dof for one in chosen if one.dof)
        dof = variance**2 / lost
    return Process(found.mean, found.mean_u, math.sqrt(variance), dof, kind)


def without_measurement(process: Process, *, u: float, dof: float = math.inf) -> Process:
    """Take the variance of the measurement out of a process's spread.

    Parameters
    ----------
    process : Process
        As observed.
    u : float
        Standard deviation of repeated measurements of one item [unit]: only what differs from item
        to item.  A shift common to all items is not in the spread and must not be taken out.
    dof : float
        Degrees of freedom of ``u``.

    Raises
    ------
    UsageError
        If ``u`` is negative or not finite.
    RefusedInput
        If the measurement alone would scatter as much as was observed, or more: one of the two is
        wrong, or the process too good for the gauge.

    Notes
    -----
    The degrees of freedom follow Satterthwaite and fall quickly as u nears the observed spread.
    """
    if not (math.isfinite(u) and u >= 0.0):
        raise UsageError(f"a standard uncertainty of {u!r} came, a finite number >= 0 is wanted")
    net = process.sigma**2 - u**2
    if net <= 0.0:
        raise RefusedInput(
            f"repeated measurements scatter by {u:.3g}, all that was observed is"
            f" {process.sigma:.3g}: nothing is left for the process itself",
            hint="report the raw capability, or measure each item more often",
        )
    freedom = net**2 / (process.sigma**4 / process.dof + u**4 / dof)
    return replace(process, sigma=math.sqrt(net), dof=freedom, removed_u=u)


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
    two limits: normal approximation, C +- z sqrt(1 / (9 n) + C^2 / (2 dof)) (Bissell), within a
    percent of the exact one from 50 items on.  n is the number of independent items that would know
    the mean as well, so lots count as lots.  All for a normal, stable process: look at the control
    chart first.

    References
    ----------
    A. F. Bissell, Appl. Stat. 39 (1990) 331, doi:10.2307/2347383.
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
    rooms = [
        room
        for room in (
            None if lower is None else process.mean - lower,
            None if upper is None else upper - process.mean,
        )
        if room is not None
    ]
    value = min(rooms) / (3.0 * process.sigma)
    potential = None
    if lower is not None and upper is not None:
        potential = _potential(f"{letter}p", (upper - lower) / (6.0 * process.sigma), process, p)
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
