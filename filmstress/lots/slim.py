"""Results without the points of their scans: numbers are all that a lot is decided on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from filmstress.records.curvature import CurvatureChange, ScanCurvature, Trace
from filmstress.records.result import StressResult


def without_points(result: StressResult) -> StressResult:
    """The same result with empty traces; fits, budgets and provenance stay.

    A scan of 40 000 points takes a megabyte, its fit a few kilobytes.
    """
    weight = result.weight
    if weight is not None:
        weight = replace(weight, lines=tuple(_line(line) for line in weight.lines))
    return replace(result, lines=tuple(_line(line) for line in result.lines), weight=weight)


def _line(line: CurvatureChange) -> CurvatureChange:
    return replace(
        line,
        pre=None if line.pre is None else _scan(line.pre),
        post=_scan(line.post),
        difference=_trace(line.difference),
    )


def _scan(scan: ScanCurvature) -> ScanCurvature:
    return replace(scan, trace=_trace(scan.trace))


def _trace(trace: Trace) -> Trace:
    nothing = np.empty(0)
    return replace(trace, x=nothing, z=nothing, keep=np.empty(0, dtype=np.bool_))
