"""The stage's straightness from a lot's own scans, where these want it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import FilmstressError
from filmstress.inputs.scan_parts import FROM_LOT
from filmstress.lots.running import Run
from filmstress.records.scan import Scan
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.stage import (
    StageDatum,
    ends_of,
    stage_from_residuals,
    stage_grid,
    wafer_on_stage,
)

Floats = NDArray[np.float64]


def stage_of(wafers: Sequence[WaferSpec], run: Run) -> StageDatum | None:
    """The stage's straightness; None where no scan asks for it.

    The scans are gone through twice, for their ends and for their heights, so that no more than
    one wafer's scans are held at a time.

    Raises
    ------
    RefusedInput
        Too few wafers, or no stretch of the stage that all scans cover.
    """
    wanting = [wafer for wafer in wafers if any(_on_stage(wafer))]
    if not wanting:
        return None
    good = [
        (wafer, ends)
        for wafer, ends in zip(wanting, run(_ends, wanting), strict=True)
        if ends is not None
    ]
    grid = stage_grid(ends for _, ends in good)
    heights = run(partial(_heights, grid=grid), [wafer for wafer, _ in good])
    return stage_from_residuals(grid, (own for own in heights if own is not None))


def _ends(wafer: WaferSpec) -> list[tuple[float, float]] | None:
    scans = _scans(wafer)
    return None if scans is None else [ends_of(scan) for scan in scans]


def _heights(wafer: WaferSpec, *, grid: Floats) -> Floats | None:
    scans = _scans(wafer)
    return None if scans is None else wafer_on_stage(scans, grid)


def _scans(wafer: WaferSpec) -> list[Scan] | None:
    try:
        return [_upright(spec) for spec in _on_stage(wafer)]
    except FilmstressError:
        return None  # it is refused with its own wafer


def _on_stage(wafer: WaferSpec) -> Iterator[ScanSpec]:
    for line in wafer.lines:
        for state in line.states:
            if state.scan.datum == FROM_LOT and state.scan.path is not None:
                yield state.scan


def _upright(spec: ScanSpec) -> Scan:
    scan = read_scan(spec.path or "", spec.reading)
    return scan if spec.height_up else replace(scan, z=-scan.z)
