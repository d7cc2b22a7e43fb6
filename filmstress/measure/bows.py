"""Repeated scans -> their bows over one length, for a study of the gauge."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from filmstress.errors import MeasurementRefused
from filmstress.inputs.faults import FaultList
from filmstress.measure.directions import same_direction
from filmstress.measure.same_scan import content_of
from filmstress.measure.single import InspectedScan, inspect_scan
from filmstress.records.notice import RefusalCode
from filmstress.records.scan import ScanSource
from filmstress.records.study import Reading, Readings, StudyScan

# Scans that differ more in length are hardly the same reading of one wafer.
_ALIKE = 1.05


def read_bows(
    scans: Sequence[StudyScan],
    *,
    source: str,
    remarks: Sequence[str] = (),
    on_progress: Callable[[str, int, int], None] | None = None,
) -> Readings:
    """Read every scan and find its bow over the length that all of them have.

    The reading is b = kappa L^2 / 8 with the curvature of the scan's own least-squares parabola
    and L the length of the shortest scan: scans of different length are then readings of one
    thing, which holds as far as the wafer is a parabola.

    Parameters
    ----------
    scans : sequence of StudyScan
    source : str
        The file that names them.
    remarks : sequence of str
        What is known of them already, in sentences.
    on_progress : callable, optional
        Takes the wafer, the number of scans read, and that of all scans.

    Returns
    -------
    Readings
        Bows [m]; a bowl is positive.

    Raises
    ------
    FilmstressError
        A scan cannot be read, or one file stands for two readings; `Faults` where there are
        several.

    Notes
    -----
    A stage's straightness (``datum``) bends every scan alike; it is not taken out, for it does not
    change how they differ.
    """
    faults, found = FaultList(), []
    for number, one in enumerate(scans, start=1):
        inspected = faults.attempt(lambda: _inspected(one), None)  # noqa: B023
        if inspected is not None:
            found.append((one, inspected))
        if on_progress is not None:
            on_progress(one.wafer, number, len(scans))
    _check_same(found, faults)
    faults.raise_any()
    lengths = [inspected.curvature.fit.length for _, inspected in found]
    length = min(lengths, default=0.0)
    told = list(remarks)
    if lengths and max(lengths) > _ALIKE * length:
        told.append(
            f"The scans are {length * 1e3:.4g} to {max(lengths) * 1e3:.4g} mm long: their "
            "curvatures are one reading only as far as the wafers are parabolas."
        )
    return Readings(
        source=source,
        what="bow",
        unit="m",
        rows=tuple(
            Reading(one.wafer, inspected.curvature.fit.curvature * length**2 / 8.0, one.labels)
            for one, inspected in found
        ),
        length=length if math.isfinite(length) else None,
        remarks=tuple(told),
        files=tuple((one.scan.source.path, one.scan.source.sha256) for _, one in found),
    )


def _inspected(one: StudyScan) -> InspectedScan:
    return inspect_scan(one.scan.path or "", one.scan.reading, spec=one.scan)


def _check_same(found: Sequence[tuple[StudyScan, InspectedScan]], faults: FaultList) -> None:
    """A scan that is named twice, or copied, repeats perfectly, and says nothing of the gauge."""
    seen: list[ScanSource] = []
    for _, inspected in found:
        source = inspected.scan.source
        same = next((one for one in seen if _one_scan(one, source)), None)
        if same is not None:
            faults.add(
                MeasurementRefused(
                    f"holds the very scan of {same.path}: it is no repeat",
                    code=RefusalCode.SAME_SCAN,
                    where=source.path,
                    hint="name another scan, or take this one out",
                )
            )
        seen.append(source)


def _one_scan(one: ScanSource, other: ScanSource) -> bool:
    """Whether two are one; lines of one map are others, but for the same read from either end."""
    if content_of(one) != content_of(other):
        return False
    if one.line_azimuth is None or other.line_azimuth is None:
        return True
    return same_direction(one.line_azimuth, other.line_azimuth)
