"""A line through the middle of a height map, as a scan."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, LeftOut, Scan

Floats = NDArray[np.float64]

MIN_POINTS = 10
NO_HEIGHT = "no height on the line"
# Nearer than this to a point of the grid, a place is that point [spacings].
_ON_POINT = 1e-6
# Sines and cosines below this are rounding of a right angle.
_RIGHT_ANGLE = 1e-12


def line_of_map(height_map: HeightMap, azimuth_rad: float) -> tuple[Floats, Floats]:
    """Heights along a line through the middle of the grid.

    The line is sampled where it crosses the columns of the grid, or its rows where it runs more
    nearly along these, and interpolated linearly between the two neighbours there.

    Parameters
    ----------
    height_map : HeightMap
    azimuth_rad : float
        Direction of the line [rad], counter-clockwise from the map's +x to its +y.

    Returns
    -------
    x : ndarray, shape (k,)
        Place along the line, counted from the middle of the grid [m], increasing.
    z : ndarray, shape (k,)
        Height [m]; NaN where a neighbour that is needed was not measured.

    Notes
    -----
    Along a middle row or column, and along the diagonal of a square grid, these are the measured
    heights themselves.  Elsewhere a sample is a mean of two of them.  No two samples have a
    measured height in common, so white noise of the map is white along the line, at a half to the
    whole of its variance.
    """
    x, y, z = height_map.x, height_map.y, height_map.z
    cos, sin = (_snapped(part) for part in (math.cos(azimuth_rad), math.sin(azimuth_rad)))
    columns_per_m = cos * (x.size - 1) / (x[-1] - x[0])
    rows_per_m = sin * (y.size - 1) / (y[-1] - y[0])
    if abs(columns_per_m) < abs(rows_per_m):
        z, columns_per_m, rows_per_m = z.T, rows_per_m, columns_per_m
    rows, columns = z.shape
    column = np.arange(columns)
    along = (column - 0.5 * (columns - 1)) / columns_per_m
    row = 0.5 * (rows - 1) + along * rows_per_m
    inside = (row > -_ON_POINT) & (row < rows - 1 + _ON_POINT)
    column, along, row = column[inside], along[inside], row[inside]
    nearest = np.rint(row)
    row = np.where(np.abs(row - nearest) < _ON_POINT, nearest, row)
    below = np.floor(row).astype(np.intp)
    share = row - below
    height = z[below, column]
    between = share > 0.0  # a neighbour without weight is not needed, so it may be missing
    above = z[below[between] + 1, column[between]]
    height[between] = (1.0 - share[between]) * height[between] + share[between] * above
    return (along, height) if columns_per_m > 0.0 else (along[::-1], height[::-1])


def scan_of_map(height_map: HeightMap, azimuth_rad: float) -> Scan:
    """A line through the middle of a map, with the points that were not measured left out.

    Parameters
    ----------
    height_map, azimuth_rad
        As in `line_of_map`.

    Returns
    -------
    Scan
        Its x counts from the map's middle; ``source.line_azimuth`` tells the direction, and
        ``source.rows`` counts the samples from the first that was measured to the last.

    Raises
    ------
    ScanError
        Fewer than 10 samples were measured.
    """
    x, z = line_of_map(height_map, azimuth_rad)
    found = np.flatnonzero(np.isfinite(z))
    direction = f"{math.degrees(azimuth_rad):.4g} deg"
    if found.size < MIN_POINTS:
        raise ScanError(
            f"the line at {direction} through the middle of this map has {found.size} measured "
            f"points; want {MIN_POINTS} or more",
            where=height_map.source.path,
            hint="the map should hold the wafer with its centre in the middle of the grid",
        )
    first, last = int(found[0]), int(found[-1])
    missing = np.flatnonzero(~np.isfinite(z[first:last]))
    left_out: tuple[LeftOut, ...] = ()
    if missing.size:
        left_out = (LeftOut(NO_HEIGHT, int(missing.size), int(missing[0]) + 1, "point"),)
    source = height_map.source
    rows, columns = height_map.z.shape
    return Scan(
        x[found],
        z[found],
        replace(
            source,
            rows=last - first + 1,
            # What the map lacks elsewhere is nothing to this line.
            left_out=left_out,
            notes=(
                *source.notes,
                f"the line at {direction} through the middle of a map of {columns} x {rows} points",
            ),
            line_azimuth=azimuth_rad,
        ),
    )


def _snapped(part: float) -> float:
    return 0.0 if abs(part) < _RIGHT_ANGLE else part
