"""Fewer points to draw, without losing what the eye must see: spikes, gaps, the trend."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.report.figures.curves import Curve

Floats = NDArray[np.float64]

# A step this many times the usual one is a gap in the scan, not a line to be drawn.
_GAP = 10.0


def envelope(x: Floats, z: Floats, *, bins: int) -> tuple[Floats, Floats]:
    """Keep the lowest and the highest point of each of ``bins`` stretches, in order.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
        Points; NaN in ``z`` marks a place where no line is to be drawn.
    bins : int
        Number of stretches, at least 1.

    Returns
    -------
    x, z : ndarray, shape (m,), m <= max(n, 2 bins)
        Points of the input, each at most once.  A stretch without any finite height leaves one NaN,
        so gaps wider than a stretch stay open.
    """
    if x.size <= 2 * bins:
        return x, z
    size = -(-x.size // bins)
    short = -x.size % size
    padded = np.append(z, np.full(short, np.nan)).reshape(-1, size)
    empty = np.isnan(padded)
    start = np.arange(padded.shape[0]) * size
    lowest = start + np.argmin(np.where(empty, np.inf, padded), axis=1)
    highest = start + np.argmax(np.where(empty, -np.inf, padded), axis=1)
    # In a stretch without heights both picks are its first place, a NaN.
    chosen = np.unique(np.concatenate([lowest, highest]))
    return x[chosen], z[chosen]


def kept_line(curve: Curve, *, bins: int) -> tuple[Floats, Floats]:
    """The kept points as a line that breaks at masked stretches and at gaps, thinned."""
    z = np.where(curve.keep, curve.z, np.nan)
    steps = np.diff(curve.x)
    gaps = np.flatnonzero(steps > _GAP * np.median(steps)) + 1
    return envelope(np.insert(curve.x, gaps, curve.x[gaps]), np.insert(z, gaps, np.nan), bins=bins)


def masked_points(curve: Curve, *, most: int) -> tuple[Floats, Floats]:
    """The masked points, thinned to at most ``most``."""
    out = ~curve.keep
    return envelope(curve.x[out], curve.z[out], bins=most // 2)


def running_mean(x: Floats, z: Floats, *, width: float, points: int) -> tuple[Floats, Floats]:
    """Mean over a window that slides along the scan; at the ends the window is cut, not the curve.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
        Points, ``x`` increasing.
    width : float
        Of the window, in units of ``x``.
    points : int
        Number of places, evenly from the first to the last ``x``.

    Returns
    -------
    x, mean : ndarray, shape (points,)
        NaN where the window holds no point.
    """
    places = np.linspace(x[0], x[-1], points)
    first = np.searchsorted(x, places - 0.5 * width, side="left")
    behind = np.searchsorted(x, places + 0.5 * width, side="right")
    count = behind - first
    total = np.concatenate([[0.0], np.cumsum(z)])
    sums = total[behind] - total[first]
    return places, np.divide(sums, count, out=np.full(points, np.nan), where=count > 0)
