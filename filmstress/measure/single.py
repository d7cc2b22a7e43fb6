"""One scan by itself: what was read, and its curvature."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeVar

from filmstress.errors import FilmstressError, ScanError
from filmstress.records.curvature import ScanCurvature
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.scan import HeightMap, ReadingOptions, Scan
from filmstress.records.wafer import ScanSpec
from filmstress.scans import remarks
from filmstress.scans.curvature import scan_curvature
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.map_line import scan_of_map
from filmstress.scans.reading.scan_file import read_scan, read_scans

if TYPE_CHECKING:
    from filmstress.records.surface import MapCurvature

# The lines of a map that are shown where none is asked for.
SHOWN_LINES_DEG = (0.0, 90.0)

Found = TypeVar("Found")


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


def inspect_file(
    path: str, options: ReadingOptions
) -> list[InspectedScan | MapCurvature | FilmstressError]:
    """Every scan of a file, or the one that is named, as `inspect_scan`; or why one cannot be.

    Of a map of heights, where no line is asked for, its curvatures as a whole and two lines.
    """
    try:
        scans = read_scans(path, options)
    except FilmstressError as error:
        return [error]
    if isinstance(scans, HeightMap):
        return _inspected_map(scans)
    return [
        scan if isinstance(scan, ScanError) else _tried(partial(_inspected, scan)) for scan in scans
    ]


def _inspected_map(height_map: HeightMap) -> list[InspectedScan | MapCurvature | FilmstressError]:
    from filmstress.scans.surface import map_curvature  # most files are no maps

    def line(degrees: float) -> InspectedScan:
        return _inspected(scan_of_map(height_map, math.radians(degrees)))

    return [
        _tried(partial(map_curvature, height_map)),
        *(_tried(partial(line, degrees)) for degrees in SHOWN_LINES_DEG),
    ]


def _tried(look: Callable[[], Found]) -> Found | FilmstressError:
    try:
        return look()
    except FilmstressError as error:
        return error


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
