"""One scan by itself: what was read, and its curvature."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from filmstress.records.curvature import ScanCurvature
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.scan import ReadingOptions, Scan
from filmstress.records.wafer import ScanSpec
from filmstress.scans import remarks
from filmstress.scans.curvature import scan_curvature
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.reading.scan_file import holds_map, read_scan

# The lines of a map that are shown where none is asked for [deg].
SHOWN_LINES_DEG = (0.0, 90.0)


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
    scan = read_scan(path, options or ReadingOptions())
    spec = spec or ScanSpec(path=path, azimuth=Measured(0.0, "rad", math.radians(1.0)))
    trace = in_wafer_frame(scan, spec, line_azimuth_rad=spec.azimuth.value)
    curvature = scan_curvature(trace, with_shape=True)
    left = scan.source.left_out
    notices = [
        *curvature.warnings,
        *remarks.on_fit(curvature.fit),
        *(Notice(WarningCode.ROWS_LEFT_OUT, str(one)) for one in left),
    ]
    return InspectedScan(scan, replace(curvature, warnings=tuple(notices)))


def inspect_file(path: str, options: ReadingOptions | None = None) -> tuple[InspectedScan, ...]:
    """What a file holds: one scan, or of a map, where no line of it is asked for, two lines.

    Raises
    ------
    ScanError, MeasurementRefused
        As `inspect_scan`.
    """
    options = options or ReadingOptions()
    if options.line_azimuth is not None or path == "-" or not holds_map(path):
        return (inspect_scan(path, options),)
    return tuple(
        inspect_scan(path, replace(options, line_azimuth=math.radians(degrees)))
        for degrees in SHOWN_LINES_DEG
    )
