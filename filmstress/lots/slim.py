"""Results without the points of their scans, or with few: a lot is decided on numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np
from numpy.polynomial import Polynomial

from filmstress.records.curvature import (
    CurvatureChange,
    CurvatureFit,
    ParabolaBand,
    ScanCurvature,
    Trace,
)
from filmstress.records.lot import WaferOutcome
from filmstress.records.result import StressResult, SubstrateUsed
from filmstress.records.wafer import WaferSpec
from filmstress.stats.thinning import telling_points

Points = Literal["none", "few", "all"]
Slim = Callable[[Trace, CurvatureFit], tuple[Trace, CurvatureFit]]

# As much as a figure of some hundred points' width can show: three points a stretch.
_STRETCHES, _MASKED_STRETCHES = 100, 20
_NOTHING = np.empty(0)


class Shared:
    """What the results of many wafers have in common, kept once.

    A result that comes from another process brings a copy of all that it was asked with.
    """

    def __init__(self) -> None:
        self._substrates: dict[SubstrateUsed, SubstrateUsed] = {}

    def outcome(self, outcome: WaferOutcome, wafer: WaferSpec) -> WaferOutcome:
        """The same outcome, of this very wafer."""
        result = outcome.result
        if result is not None:
            substrate = self._substrates.setdefault(result.substrate, result.substrate)
            result = replace(result, wafer=wafer, substrate=substrate)
        return replace(outcome, wafer=wafer, result=result)


def with_points(result: StressResult, points: Points) -> StressResult:
    """The same result with all points of its traces, a few to be drawn, or none.

    A scan of 40 000 points takes a megabyte, a few of them some kilobytes, its fit one.  All
    numbers stay; without points there is no parabola to be drawn either.
    """
    if points == "all":
        return result
    slim = _without if points == "none" else _with_few
    weight = result.weight
    if weight is not None:
        weight = replace(weight, lines=tuple(_line(line, slim) for line in weight.lines))
    lines = tuple(_line(line, slim) for line in result.lines)
    return replace(result, lines=lines, weight=weight)


def _line(line: CurvatureChange, slim: Slim) -> CurvatureChange:
    difference, change = slim(line.difference, line.change)
    return replace(
        line,
        pre=None if line.pre is None else _scan(line.pre, slim),
        post=_scan(line.post, slim),
        change=change,
        difference=difference,
    )


def _scan(scan: ScanCurvature, slim: Slim) -> ScanCurvature:
    trace, fit = slim(scan.trace, scan.fit)
    return replace(scan, trace=trace, fit=fit)


def _without(trace: Trace, fit: CurvatureFit) -> tuple[Trace, CurvatureFit]:
    trace = replace(trace, x=_NOTHING, z=_NOTHING, keep=np.empty(0, dtype=np.bool_))
    return trace, replace(fit, band=ParabolaBand(_NOTHING, _NOTHING, _NOTHING))


def _with_few(trace: Trace, fit: CurvatureFit) -> tuple[Trace, CurvatureFit]:
    """The points that tell most of how the scan lies about its parabola, and of what is masked."""
    beside = trace.z - Polynomial.fit(fit.band.x, fit.band.z, 2)(trace.x)
    stay = [
        np.flatnonzero(some)[telling_points(beside[some], stretches=stretches)]
        for some, stretches in ((trace.keep, _STRETCHES), (~trace.keep, _MASKED_STRETCHES))
        if some.any()
    ]
    places = np.sort(np.concatenate(stay)) if stay else np.arange(0)
    return replace(trace, x=trace.x[places], z=trace.z[places], keep=trace.keep[places]), fit
