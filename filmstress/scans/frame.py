"""From a file's own coordinates to the wafer's: origin, direction, stage straightness, window."""

from __future__ import annotations

import math

import numpy as np

from filmstress.errors import MeasurementRefused
from filmstress.records.curvature import Trace
from filmstress.records.notice import RefusalCode
from filmstress.records.scan import Scan
from filmstress.records.wafer import ScanSpec

MIN_POINTS = 20


def runs_backwards(spec: ScanSpec, *, line_azimuth_rad: float) -> bool:
    """Whether a scan was stated to run against its line (its azimuth is half a turn off)."""
    return math.cos(spec.azimuth.value - line_azimuth_rad) < 0.0


def in_wafer_frame(
    scan: Scan, spec: ScanSpec, *, line_azimuth_rad: float, datum: Scan | None = None
) -> Trace:
    """A scan as a trace along its line, seen from the wafer's centre.

    Parameters
    ----------
    scan : Scan
        As read; heights are turned if the file counts them into the face.
    spec : ScanSpec
        Gives origin, azimuth, window and direction of height.
    line_azimuth_rad : float
        Azimuth of the line [rad]; a scan half a turn off runs backwards along it.
    datum : Scan, optional
        The stage's own straightness in the same stage coordinates, heights out of the face,
        subtracted.  Points beyond its ends are left out.

    Raises
    ------
    MeasurementRefused
        If fewer than 20 points remain.
    """
    z = scan.z if spec.height_up else -scan.z
    keep = np.ones(z.size, dtype=bool)
    if datum is not None:
        z = z - np.interp(scan.x, datum.x, datum.z)
        keep &= (scan.x >= datum.x[0]) & (scan.x <= datum.x[-1])
    shift = _middle_to_centre(scan) if spec.origin is None else spec.origin.value
    x = scan.x + shift
    backwards = runs_backwards(spec, line_azimuth_rad=line_azimuth_rad)
    if backwards:
        x, z, keep = -x[::-1], z[::-1], keep[::-1]
    if spec.window is not None:
        keep = keep & (x >= spec.window[0]) & (x <= spec.window[1])
    if not keep.all():
        x, z = x[keep], z[keep]
    if x.size < MIN_POINTS:
        raise MeasurementRefused(
            f"{x.size} points are left of {scan.x.size}",
            code=RefusalCode.TOO_FEW_POINTS,
            where=scan.source.path,
            hint=f"a parabola wants at least {MIN_POINTS}; check window, origin and datum",
        )
    return Trace(
        x,
        z,
        np.ones(x.size, dtype=bool),
        origin=float(shift),
        backwards=backwards,
        datum_removed=datum is not None,
    )


def _middle_to_centre(scan: Scan) -> float:
    """What brings the scan's middle over the wafer's centre [m]."""
    # A line of a map counts from the map's middle, however much is missing at one of its ends.
    whole_map = scan.source.line_azimuth is not None
    return 0.0 if whole_map else -0.5 * float(scan.x[0] + scan.x[-1])
