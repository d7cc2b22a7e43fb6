"""Results without the points of their scans: numbers are all that a lot is decided on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

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


def without_points(result: StressResult) -> StressResult:
    """The same result without traces and without parabolas to draw; all numbers stay.

    A scan of 40 000 points takes a megabyte, its fit a kilobyte.
    """
    return replace(result, lines=tuple(_line(line) for line in result.lines))


def _line(line: CurvatureChange) -> CurvatureChange:
    return replace(
        line,
        pre=None if line.pre is None else _scan(line.pre),
        post=_scan(line.post),
        change=_fit(line.change),
        difference=_trace(line.difference),
    )


def _scan(scan: ScanCurvature) -> ScanCurvature:
    return replace(scan, trace=_trace(scan.trace), fit=_fit(scan.fit))


def _fit(fit: CurvatureFit) -> CurvatureFit:
    return replace(fit, band=ParabolaBand(_NOTHING, _NOTHING, _NOTHING))


def _trace(trace: Trace) -> Trace:
    return replace(trace, x=_NOTHING, z=_NOTHING, keep=np.empty(0, dtype=np.bool_))
