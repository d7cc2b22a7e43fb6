"""A wafer's files -> the change of curvature along each of its lines."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError, UsageError
from filmstress.inputs.scan_parts import FROM_LOT
from filmstress.measure.ring import within_film
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.quantity import Source
from filmstress.records.scan import ReadingOptions, Scan, ScanSource
from filmstress.records.wafer import LineSpec, ScanSpec, WaferSpec
from filmstress.scans.curvature import curvature_change
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.stage import StageDatum

Floats = NDArray[np.float64]

Read = Callable[[str, ReadingOptions], Scan]

FIRST, SECOND = "pre", "post"


def measure_lines(
    wafer: WaferSpec,
    *,
    setting: str = "balanced",
    stage: StageDatum | None = None,
    copies: int = 0,
    known: Callable[[int], Callable[[Floats], Floats] | None] | None = None,
    read_file: Read = read_scan,
) -> tuple[tuple[CurvatureChange, ...], tuple[tuple[str, ScanSource], ...]]:
    """Read a wafer's scans and find the change of curvature of every line.

    Parameters
    ----------
    wafer : WaferSpec
    setting : str
        Setting of the noise model.
    stage : StageDatum, optional
        The stage's straightness, for scans whose datum is "from-lot".
    copies : int
        Copies of every line's measurement to prove its interval on; 0 for none.
    known : callable, optional
        Gives, for a line's number, the heights that are known to be in its difference.
    read_file : callable
        Reads a scan from its path.

    Returns
    -------
    changes : tuple of CurvatureChange
        One for each line.
    files : tuple of (str, ScanSource)
        State and provenance of every file read.

    Raises
    ------
    ScanError
        If a file cannot be read.
    MeasurementRefused
        If the scans cannot be compared.
    """
    files: list[tuple[str, ScanSource]] = []
    data: dict[tuple[str, ReadingOptions], Scan] = {}

    def read(state: str, spec: ScanSpec) -> Scan | None:
        if spec.path is None:
            return None
        scan = read_file(spec.path, spec.reading)
        files.append((state, scan.source))
        return scan

    def datum_of(spec: ScanSpec, scan: Scan) -> Scan | None:
        if spec.datum is None:
            return None
        if spec.datum == FROM_LOT:
            if scan.source.line_azimuth is not None:
                raise ScanError(
                    "'from-lot' finds the straightness of one line of the stage; lines of a map "
                    "run over several",
                    where=scan.source.path,
                    hint="name a map of a flat taken on the same stage: datum = 'flat.x3p'",
                )
            if stage is None:
                raise UsageError(
                    "'from-lot' wants the scans of a whole lot",
                    where="scan.datum",
                    hint="use it in a lot file, or name a scan of a flat taken on the same stage",
                )
            return stage.as_scan()
        # Which scan of its file a state is says nothing of the flat's file; a scan of a flat serves
        # all lines, and of a map of it each takes its own.
        own = replace(spec.reading, trace=None)
        key = spec.datum, replace(own, line_azimuth=None)
        if key not in data:
            key = spec.datum, own
        if key not in data:
            flat = read_file(*key)
            files.append(("datum", flat.source))
            if flat.source.line_azimuth is None:
                key = spec.datum, replace(own, line_azimuth=None)
            data[key] = flat
        flat = data[key]
        return flat if spec.height_up else replace(flat, z=-flat.z)

    def change_of(number: int, line: LineSpec) -> CurvatureChange:
        specs = {state.name: state.scan for state in line.states}
        pre_spec, post_spec = specs.get(FIRST), within_film(wafer, specs[SECOND])
        if pre_spec is not None:
            pre_spec = within_film(wafer, pre_spec)
        pre_scan = read(FIRST, pre_spec) if pre_spec is not None else None
        post_scan = read(SECOND, post_spec)
        if post_scan is None:
            raise UsageError(f"the {SECOND} scan is missing", where=wafer.named)
        azimuth = line.azimuth.value
        pre = (
            None
            if pre_scan is None or pre_spec is None
            else in_wafer_frame(
                pre_scan, pre_spec, line_azimuth_rad=azimuth, datum=datum_of(pre_spec, pre_scan)
            )
        )
        post = in_wafer_frame(
            post_scan, post_spec, line_azimuth_rad=azimuth, datum=datum_of(post_spec, post_scan)
        )
        change = curvature_change(
            pre,
            post,
            pre_spec=pre_spec,
            post_spec=post_spec,
            bare_bow=wafer.bare_bow,
            known=None if known is None else known(number),
            setting=setting,
        )
        if copies and pre is not None:
            from filmstress.scans.proof import prove, proven

            proof = prove(change, pre_spec=pre_spec, post_spec=post_spec, copies=copies)
            change = proven(change, proof)
        terms = tuple(
            # One bare wafer stands behind all lines.
            replace(term, common_to=wafer.named) if term.input == "bare bow" else term
            for term in change.terms
        )
        if stage is not None and post_spec.datum == FROM_LOT:
            terms = (*terms, *_stage_terms(stage, change))
        return replace(change, azimuth=azimuth, terms=terms)

    changes = tuple(change_of(number, line) for number, line in enumerate(wafer.lines))
    return changes, tuple(files)


def _stage_terms(stage: StageDatum, change: CurvatureChange) -> list[Term]:
    """What the estimated straightness leaves, where the wafer lay beside its old place."""
    if change.registration is None or change.pre is None:
        return []
    before, after = change.pre.trace, change.post.trace
    low, high = (float(change.difference.x[end]) - before.origin for end in (0, -1))
    shift = change.registration.offset_m - (before.origin - after.origin)
    u = stage.curvature_u(low, high, shift)
    if u == 0.0:
        return []
    return [
        Term(
            input="stage straightness",
            value=0.0,
            unit="1",
            u=1.0,
            # One error of the stage reaches every wafer, by as much as it was moved.
            sensitivity=math.copysign(u, shift),
            dof=stage.dof,
            evaluation="A",
            common_to="stage",
            source=Source.DATA,
        )
    ]
