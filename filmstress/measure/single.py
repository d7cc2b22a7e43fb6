"""One scan by itself: what was read, and its curvature."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from filmstress.errors import FilmstressError, ScanError
from filmstress.records.curvature import ScanCurvature
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.scan import ReadingOptions, Scan
from filmstress.records.wafer import ScanSpec
from filmstress.scans import remarks
from filmstress.scans.curvature import scan_curvature
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.reading.scan_file import read_scan, read_scans


@dataclass(frozen=True, slots=True, eq=False)
class InspectedScan:
    """A scan as read, and its curvature."""

    scan: Scan
    curvature: ScanCurvature


def inspect_scan(
    path: str, options: ReadingOptions | None = None, *, spec: ScanSpec | None = None
) -> InspectedScan:
    """Read one scan and find its curvature.

    Parameters
    ----------
    path : str
        File, or "-" for standard input.
    options : ReadingOptions, optional
        What the file leaves open.
    spec : ScanSpec, optional
        Gives the window, the origin and the direction of height, where these are stated.

    Raises
    ------
    ScanError
        If the file cannot be read.
    MeasurementRefused
        If too few points remain.
    """
    return _inspected(read_scan(path, options or ReadingOptions()), spec)


def inspect_file(path: str, options: ReadingOptions) -> list[InspectedScan | FilmstressError]:
    """Every scan of a file, or the one that is named, as `inspect_scan`; or why one cannot be."""
    found: list[InspectedScan | FilmstressError] = []
    try:
        scans = read_scans(path, options)
    except FilmstressError as error:
        return [error]
    for scan in scans:
        try:
            found.append(scan if isinstance(scan, ScanError) else _inspected(scan))
        except FilmstressError as error:
            found.append(error)
    return found


def _inspected(scan: Scan, spec: ScanSpec | None = None) -> InspectedScan:
    path = scan.source.path
    spec = spec or ScanSpec(path=path, azimuth=Measured(0.0, "rad", math.radians(1.0)))
    trace = in_wafer_frame(scan, spec, line_azimuth_rad=spec.azimuth.value)
    curvature = scan_curvature(trace, with_shape=True)
    left = scan.source.left_out
    notices = [
        *curvature.warnings,
        *remarks.on_fit(curvature.fit),
        *(
            Notice(
                WarningCode.ROWS_LEFT_OUT,
                one.words,
            )
            for one in left
        ),
    ]
    return InspectedScan(scan, replace(curvature, warnings=tuple(notices)))
