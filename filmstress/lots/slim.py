"""Results with a few points of their scans: a lot is decided on numbers, and looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.polynomial import Polynomial

from filmstress.records.curvature import CurvatureChange, CurvatureFit, ScanCurvature, Trace
from filmstress.records.result import StressResult
from filmstress.stats.thinning import telling_points

# As much as a figure of some hundred points' width can show: three points a stretch.
_STRETCHES, _MASKED_STRETCHES = 100, 20


def with_few_points(result: StressResult) -> StressResult:
    """The same result with traces of a few hundred points; fits, budgets and provenance stay.

    A scan of 40 000 points takes a megabyte, what is left of it a few kilobytes.
    """
    return replace(result, lines=tuple(_line(line) for line in result.lines))


def _line(line: CurvatureChange) -> CurvatureChange:
    return replace(
        line,
        pre=None if line.pre is None else _scan(line.pre),
        post=_scan(line.post),
        difference=_trace(line.difference, line.change),
    )


def _scan(scan: ScanCurvature) -> ScanCurvature:
    return replace(scan, trace=_trace(scan.trace, scan.fit))


def _trace(trace: Trace, fit: CurvatureFit) -> Trace:
    """The points that tell most of how the scan lies about its parabola, and of what is masked."""
    beside = trace.z - Polynomial.fit(fit.band.x, fit.band.z, 2)(trace.x)
    stay = [
        np.flatnonzero(some)[telling_points(beside[some], stretches=stretches)]
        for some, stretches in ((trace.keep, _STRETCHES), (~trace.keep, _MASKED_STRETCHES))
        if some.any()
    ]
    places = np.sort(np.concatenate(stay)) if stay else np.arange(0)
    return replace(trace, x=trace.x[places], z=trace.z[places], keep=trace.keep[places])
