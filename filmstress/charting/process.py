"""How the scatter of a recipe compares with the limits of its lots."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from filmstress.charting.lots import Series
from filmstress.stats.capability import Capability, capability, without_measurement
from filmstress.stats.control.chart import Floats
from filmstress.stats.control.constants import chart_constants
from filmstress.stats.control.individuals import moving_range_dof

# With fewer, what is left beside the measurement's scatter could be anything.
_LEAST_DOF = 1.0


@dataclass(frozen=True, slots=True)
class Scatter:
    """Standard deviation of a single wafer, from lots as clusters.

    Attributes
    ----------
    sigma : float
        [Pa]
    dof : float
        Effective degrees of freedom.
    count : float
        How many independent wafers the mean is worth.
    """

    sigma: float
    dof: float
    count: float


@dataclass(frozen=True, slots=True)
class Performance:
    """Capability of a recipe, by its scatter from lot to lot and by all of it.

    Attributes
    ----------
    lower, upper : float or None
        Specification of the latest lot [Pa].
    changed : bool
        Whether an earlier lot had another.
    mean : float
        Of the lots' means [Pa].
    shared_u : float
        Its standard uncertainty from what all lots share [Pa]; in the intervals.
    wafer_u : float or None
        What the measurement brings to the scatter of one wafer [Pa]; None where not known.
    short, long : Scatter
        From neighbouring lots (Cp, Cpk), and from all lots (Pp, Ppk).
    raw, raw_long : Capability
        As observed.
    net, net_long : Capability or None
        With the measurement's scatter taken out; None where that explains nearly all of it, or is
        not known.
    """

    lower: float | None
    upper: float | None
    changed: bool
    mean: float
    shared_u: float
    wafer_u: float | None
    short: Scatter
    long: Scatter
    raw: Capability
    raw_long: Capability
    net: Capability | None
    net_long: Capability | None


def performance(series: Series) -> Performance | None:
    """Capability over all lots of a series; None where the latest has no limits.

    Notes
    -----
    The variance of a single wafer is that of the lots' means plus the part (1 - 1/n) of the
    variance within lots, n their harmonic mean size: between lots and within, each with its own
    degrees of freedom (combined by Welch and Satterthwaite).  For lots of one wafer it is the
    plain one.
    """
    points = series.points
    latest = points[-1]
    if latest.lower is None and latest.upper is None:
        return None
    means = np.array([one.mean for one in points])
    within, within_dof = _within(series)
    ranges = float(np.abs(np.diff(means)).mean()) / chart_constants(2).d2
    inverse_size = float(np.mean([1.0 / len(one.stresses) for one in points]))
    rest = within**2 * (1.0 - inverse_size)
    short = _scatter(ranges, moving_range_dof(len(points)), rest, within_dof, len(points))
    long = _scatter(float(means.std(ddof=1)), len(points) - 1, rest, within_dof, len(points))
    shared = [one.shared_u for one in points]
    shared_u = float(np.mean([u or 0.0 for u in shared]))
    wafer_u = _wafer_u(series)
    mean = float(means.mean())

    def of(scatter: Scatter | None) -> Capability | None:
        if scatter is None:
            return None
        return capability(
            mean=mean,
            sigma=scatter.sigma,
            dof=scatter.dof,
            count=scatter.count,
            lower=latest.lower,
            upper=latest.upper,
            shared_u=shared_u,
        )

    raw, raw_long = of(short), of(long)
    assert raw is not None
    assert raw_long is not None
    return Performance(
        latest.lower,
        latest.upper,
        any((one.lower, one.upper) != (latest.lower, latest.upper) for one in points),
        mean,
        shared_u,
        wafer_u,
        short,
        long,
        raw,
        raw_long,
        of(_net(short, wafer_u)),
        of(_net(long, wafer_u)),
    )


def _within(series: Series) -> tuple[float, float]:
    """Pooled standard deviation within lots and its degrees of freedom; zeros for single wafers."""
    rows: list[Floats] = [np.array(one.stresses) for one in series.points]
    dof = sum(len(row) - 1 for row in rows)
    if dof == 0:
        return 0.0, 0.0
    return math.sqrt(sum(float(((row - row.mean()) ** 2).sum()) for row in rows) / dof), dof


def _scatter(sd: float, dof: float, rest: float, rest_dof: float, lots: int) -> Scatter:
    variance = sd**2 + rest
    spread = sd**4 / dof + (rest**2 / rest_dof if rest_dof else 0.0)
    return Scatter(math.sqrt(variance), variance**2 / spread, lots * variance / sd**2)


def _wafer_u(series: Series) -> float | None:
    squares = []
    for one in series.points:
        if one.wafer_u is None:
            return None
        squares.append(one.wafer_u**2 * len(one.stresses))
    return math.sqrt(math.fsum(squares) / series.wafers)


def _net(scatter: Scatter, u: float | None) -> Scatter | None:
    net = None if u is None else without_measurement(scatter.sigma, scatter.dof, u)
    if net is None:
        return None
    sigma, dof = net
    if dof < _LEAST_DOF:
        return None
    # The mean is as uncertain as before.
    return Scatter(sigma, dof, scatter.count * (sigma / scatter.sigma) ** 2)
