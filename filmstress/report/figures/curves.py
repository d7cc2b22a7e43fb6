"""From a line's records to the curves that are drawn: shapes, change, residuals, by azimuth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.polynomial import Polynomial
from numpy.typing import NDArray

from filmstress.records.curvature import CurvatureChange, CurvatureFit, Trace
from filmstress.records.registration import Registration
from filmstress.stats.coverage import t_factor, whole_dof

Floats = NDArray[np.float64]

MOST_COLUMNS = 4
_SAME_AZIMUTH_RAD = math.radians(3.0)
_COVERAGE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Positions, heights [m] and mask of points to draw; ``keep`` is False where masked."""

    x: Floats
    z: Floats
    keep: NDArray[np.bool_]

    def mirrored(self) -> Curve:
        """The same seen from the other end."""
        return Curve(-self.x[::-1], self.z[::-1], self.keep[::-1])


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """All that is drawn of one line.

    Attributes
    ----------
    line : CurvatureChange
        Where it comes from.
    before, after : Curve
        Heights above the chord, the straight line through the ends of the scan's fitted parabola;
        ``after`` lies where registration found it.  Without a scan before, ``before`` is the
        parabola of the stated bare bow.
    change : Curve
        After minus before, above the chord.
    residuals : Curve
        What the fitted parabola leaves of the change.
    grid, parabola, half_band : ndarray
        The change's fitted parabola on a coarse grid, and the half-width of its 95 % band [m];
        the half-width is NaN where the uncertainty is not known.
    """

    line: CurvatureChange
    before: Curve
    after: Curve
    change: Curve
    residuals: Curve
    grid: Floats
    parabola: Floats
    half_band: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """Repeats of one azimuth, drawn over one another."""

    azimuth: float
    curves: tuple[Curves, ...]

    @property
    def worst_rms(self) -> float:
        """Largest residual rms of the repeats [m]."""
        return max(curves.line.change.residual_rms for curves in self.curves)


def columns_of(lines: Sequence[CurvatureChange]) -> tuple[Column, ...]:
    """Group lines by azimuth, in its order; those half a turn apart are mirrored and join."""
    groups: list[tuple[float, list[Curves]]] = []
    for line in sorted(lines, key=lambda line: line.azimuth):
        for azimuth, members in groups:
            turned = line.azimuth - azimuth
            if abs(math.sin(turned)) < math.sin(_SAME_AZIMUTH_RAD):
                members.append(_curves(line, mirrored=math.cos(turned) < 0.0))
                break
        else:
            groups.append((line.azimuth, [_curves(line, mirrored=False)]))
    return tuple(Column(azimuth, tuple(members)) for azimuth, members in groups)


def worst_columns(columns: Sequence[Column], most: int = MOST_COLUMNS) -> tuple[Column, ...]:
    """At most ``most`` columns, those with the largest residuals, in their order."""
    by_rms = sorted(columns, key=lambda column: column.worst_rms, reverse=True)[:most]
    return tuple(column for column in columns if column in by_rms)


def _curves(line: CurvatureChange, *, mirrored: bool) -> Curves:
    difference, fit = line.difference, line.change
    grid, level, change = fit.band.x, fit.band.z, difference.z
    # The band holds the fitted parabola itself, so its coefficients come back exactly.
    residuals = difference.z - Polynomial.fit(grid, level, 2)(difference.x)
    if line.pre is None:
        # The record holds the scan after; what is drawn is its change from the stated bow.
        change = change - _stated(line, difference.x)
        level = level - _stated(line, grid)
        bare = _stated(line, grid)
        before = Curve(grid, bare - _chord(grid, bare)(grid), np.ones(grid.size, dtype=bool))
    else:
        before = _above_chord(line.pre.trace, line.pre.fit)
    chord = _chord(grid, level)
    curves = Curves(
        line=line,
        before=before,
        after=_on_wafer(_above_chord(line.post.trace, line.post.fit), line.registration),
        change=Curve(difference.x, change - chord(difference.x), difference.keep),
        residuals=Curve(difference.x, residuals, difference.keep),
        grid=grid,
        parabola=level - chord(grid),
        half_band=_half_band(fit),
    )
    return _mirrored(curves) if mirrored else curves


def _stated(line: CurvatureChange, x: Floats) -> Floats:
    return 0.5 * line.pre_curvature * (x - line.change.centre) ** 2


def _chord(grid: Floats, level: Floats) -> Polynomial:
    slope = (level[-1] - level[0]) / (grid[-1] - grid[0])
    return Polynomial([level[0] - slope * grid[0], slope])


def _above_chord(trace: Trace, fit: CurvatureFit) -> Curve:
    return Curve(trace.x, trace.z - _chord(fit.band.x, fit.band.z)(trace.x), trace.keep)


def _on_wafer(after: Curve, found: Registration | None) -> Curve:
    if found is None:
        return after
    if found.reversed:
        after = after.mirrored()
    return replace(after, x=after.x + found.offset_m)


def _mirrored(curves: Curves) -> Curves:
    return replace(
        curves,
        before=curves.before.mirrored(),
        after=curves.after.mirrored(),
        change=curves.change.mirrored(),
        residuals=curves.residuals.mirrored(),
        grid=-curves.grid[::-1],
        parabola=curves.parabola[::-1],
        half_band=curves.half_band[::-1],
    )


def _half_band(fit: CurvatureFit) -> Floats:
    if not fit.dof > 0.0:
        return np.full(fit.band.x.size, np.nan)
    return t_factor(_COVERAGE, whole_dof(fit.dof)) * fit.band.u
