"""Means over equal squares of an area: what carries the slow part of a surface.

As along a trace (`filmstress.stats.block_means`), only noise slower than the squares moves a
fitted quadratic surface, and their means make all finer structure look white.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SQUARES = 16
MIN_SQUARES = 20
# Squares that hold less than this share of the fullest one are left out: the rim.
_FILLED = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class AreaMeans:
    """A surface averaged over squares of one size.

    Places are in s = (x - centre_x) / half_width and t = (y - centre_y) / half_width.

    Attributes
    ----------
    centre_x, centre_y, half_width : float
        Of the square around all points that are used [x].
    squares : int
        Squares along one side of it.
    column, row : ndarray of int, shape (m,)
        Place of each square that is filled.
    count : ndarray, shape (m,)
        Points in it.
    moments : ndarray, shape (6, m)
        Means of 1, s, t, s^2, s t and t^2 over these points.
    z : ndarray, shape (m,)
        Means of the heights.
    """

    centre_x: float
    centre_y: float
    half_width: float
    squares: int
    column: NDArray[np.intp]
    row: NDArray[np.intp]
    count: Floats
    moments: Floats
    z: Floats


def area_means(x: Floats, y: Floats, z: Floats, *, squares: int = SQUARES) -> AreaMeans:
    """Average heights over squares.

    Parameters
    ----------
    x, y, z : ndarray, shape (n,)
        Places and heights of the points to use, finite.
    squares : int
        Squares along one side of the area.

    Raises
    ------
    RefusedInput
        Fewer than 20 squares are filled.
    """
    centre_x, centre_y, half = _frame(x, y)
    s, t = (x - centre_x) / half, (y - centre_y) / half
    place = _places(s, t, squares)
    total = squares * squares
    count = np.bincount(place, minlength=total)
    filled = np.flatnonzero(count >= max(1.0, _FILLED * float(count.max())))
    if filled.size < MIN_SQUARES:
        raise RefusedInput(
            f"the points fill {filled.size} of {total} equal squares; at least {MIN_SQUARES} are "
            "needed for a surface",
            hint="widen the area, or fit lines",
        )

    def mean(values: Floats) -> Floats:
        sums = np.bincount(place, weights=values, minlength=total)
        return np.asarray(sums[filled] / count[filled], dtype=np.float64)

    return AreaMeans(
        centre_x=float(centre_x),
        centre_y=float(centre_y),
        half_width=half,
        squares=squares,
        column=filled % squares,
        row=filled // squares,
        count=count[filled].astype(np.float64),
        moments=np.stack([np.ones(filled.size), *map(mean, (s, t, s * s, s * t, t * t))]),
        z=mean(z),
    )


def far_from_medians(
    x: Floats, y: Floats, z: Floats, *, points: int = 40, factor: float = 8.0
) -> Mask:
    """Points that lie far from the median of their square: dust, wild points.

    Parameters
    ----------
    x, y, z : ndarray, shape (n,)
        Places and heights without slow form.
    points : int
        In a square, about; less than half of them may be dust.
    factor : float
        How far is far, in robust standard deviations of all points about these medians.
    """
    centre_x, centre_y, half = _frame(x, y)
    squares = max(1, int(np.sqrt(x.size / points)))
    place = _places((x - centre_x) / half, (y - centre_y) / half, squares)
    order = np.lexsort((z, place))
    count = np.bincount(place, minlength=squares * squares)
    last = np.cumsum(count)
    middle = np.minimum(last - count + count // 2, z.size - 1)
    departure = np.abs(z - z[order[middle]][place])
    # A normal distribution's median absolute deviation is 0.6745 of its standard deviation.
    far: Mask = departure > factor * float(np.median(departure)) / 0.6745
    return far


def _frame(x: Floats, y: Floats) -> tuple[float, float, float]:
    """Centre and half width of the square around all points."""
    if x.size == 0:
        raise RefusedInput("no points are left", hint="is the map empty, or all of it masked?")
    half = 0.5 * max(float(np.ptp(x)), float(np.ptp(y)))
    if half == 0.0:
        raise RefusedInput("all points lie at one place", hint="check the map's axes")
    return 0.5 * float(x.min() + x.max()), 0.5 * float(y.min() + y.max()), half


def _places(s: Floats, t: Floats, squares: int) -> NDArray[np.intp]:
    """Number of the square that each point lies in."""
    column, row = (
        np.minimum(((1.0 + place) * (0.5 * squares)).astype(np.intp), squares - 1)
        for place in (s, t)
    )
    return np.asarray(row * squares + column)
