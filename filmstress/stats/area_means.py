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

SQUARES = 12
MIN_SQUARES = 20
# Squares that hold less than this share of the fullest one are left out: the rim.
_FILLED = 0.25
# Points far from their neighbours are told by the median of about this many.
_NEIGHBOURS = 40
# Of the robust standard deviation.
_FAR = 8.0
# A normal distribution's median absolute deviation over its standard deviation.
_MEDIAN_DEVIATION = 0.6745


@dataclass(frozen=True, slots=True)
class Frame:
    """The square around all points: s and t run over it from -1 to 1.

    Attributes
    ----------
    centre_x, centre_y, half_width : float
        [x].
    """

    centre_x: float
    centre_y: float
    half_width: float

    def __call__(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Places as s and t [1]."""
        return (x - self.centre_x) / self.half_width, (y - self.centre_y) / self.half_width


@dataclass(frozen=True, slots=True, eq=False)
class AreaMeans:
    """A surface averaged over squares of one size.

    Attributes
    ----------
    frame : Frame
        That s and t are counted in.
    filled : ndarray of bool, shape (12, 12)
        Which squares are filled, by row and column; all else is in their order.
    count : ndarray, shape (m,)
        Points in each of them.
    moments : ndarray, shape (6, m)
        Means of 1, s, t, s^2, s t and t^2 over these points.
    z : ndarray, shape (m,)
        Means of the heights.
    """

    frame: Frame
    filled: Mask
    count: Floats
    moments: Floats
    z: Floats


def area_means(x: Floats, y: Floats, z: Floats) -> AreaMeans:
    """Average heights over 12 x 12 squares.

    Parameters
    ----------
    x, y, z : ndarray, shape (n,)
        Places and heights of the points to use, finite.

    Raises
    ------
    RefusedInput
        Fewer than 20 squares are filled.
    """
    frame = _around(x, y)
    s, t = frame(x, y)
    place = _squares(s, t, SQUARES)
    total = SQUARES * SQUARES
    count = np.bincount(place, minlength=total)
    filled = count >= max(1.0, _FILLED * float(count.max()))
    squares = int(np.count_nonzero(filled))
    if squares < MIN_SQUARES:
        raise RefusedInput(
            f"the points fill {squares} of {total} equal squares; at least {MIN_SQUARES} are "
            "needed for a surface",
            hint="measure more of the area, or fit lines",
        )

    def mean(values: Floats) -> Floats:
        sums = np.bincount(place, weights=values, minlength=total)
        return np.asarray(sums[filled] / count[filled], dtype=np.float64)

    return AreaMeans(
        frame=frame,
        filled=filled.reshape(SQUARES, SQUARES),
        count=count[filled].astype(np.float64),
        moments=np.stack([np.ones(squares), *map(mean, (s, t, s * s, s * t, t * t))]),
        z=mean(z),
    )


def far_from_medians(x: Floats, y: Floats, z: Floats) -> Mask:
    """Points that lie far from the median of their small square: spikes, wild points.

    Parameters
    ----------
    x, y, z : ndarray, shape (n,)
        Places, and heights without the surface.

    Notes
    -----
    Far is eight robust standard deviations of all points about these medians.  Spikes wider than
    half a square, some 40 points, are taken for shape.
    """
    squares = max(1, int(np.sqrt(x.size / _NEIGHBOURS)))
    place = _squares(*_around(x, y)(x, y), squares)
    lowest = float(z.min())
    span = 2.0 * (float(z.max()) - lowest) or 1.0
    # Sorted by square and within it by height, in one go.
    order = np.sort(place + (z - lowest) / span)
    count = np.bincount(place, minlength=squares * squares)
    last = np.cumsum(count)
    middle = order[np.minimum(last - count + count // 2, z.size - 1)]
    median = (middle - np.arange(middle.size)) * span + lowest
    departure = np.abs(z - median[place])
    far: Mask = departure > _FAR * float(np.median(departure)) / _MEDIAN_DEVIATION
    return far


def _around(x: Floats, y: Floats) -> Frame:
    if x.size == 0:
        raise RefusedInput("no points are left", hint="is the map empty?")
    half = 0.5 * max(float(np.ptp(x)), float(np.ptp(y)))
    if half == 0.0:
        raise RefusedInput("all points lie at one place", hint="check the axes")
    return Frame(0.5 * float(x.min() + x.max()), 0.5 * float(y.min() + y.max()), half)


def _squares(s: Floats, t: Floats, squares: int) -> NDArray[np.intp]:
    """Number of the square that each point lies in."""
    column, row = (
        np.minimum(((1.0 + place) * (0.5 * squares)).astype(np.intp), squares - 1)
        for place in (s, t)
    )
    return np.asarray(row * squares + column)
