"""Bin means of a trace without inventing detail: what is masked or lies in a gap stays empty."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

GAP_STEPS = 3.0


def typical_step(x: Floats) -> float:
    """Median distance between neighbouring points, from at most some 2000 of them."""
    stride = max(1, x.size // 2000)
    if stride == 1:
        return float(np.median(np.diff(x)))
    starts = x[:-1:stride]
    return float(np.median(x[1::stride][: starts.size] - starts))


def usable_segments(x: Floats, keep: Bools | None) -> Bools:
    """Whether the way from each point to the next may be interpolated: both kept, and no gap."""
    usable: Bools = np.diff(x) <= GAP_STEPS * typical_step(x)
    if keep is not None:
        usable &= keep[1:]
        usable &= keep[:-1]
    return usable


def bin_means(x: Floats, z: Floats, keep: Bools | None, edges: Floats) -> tuple[Floats, Floats]:
    """Mean height over each bin, of the straight lines between neighbouring usable points.

    The mean of a line over a symmetric bin is its value at the bin's centre, so a tilt passes
    unchanged however the points are spread; a parabola gains the constant curvature*width^2/24.

    Parameters
    ----------
    x, z : ndarray of float64, shape (n,)
        Points, x strictly increasing [m].
    keep : ndarray of bool, shape (n,), or None
        Points that may be used; None is all.
    edges : ndarray of float64, shape (m + 1,)
        Edges of adjoining bins, increasing [m].

    Returns
    -------
    mean : ndarray of float64, shape (m,)
        Mean height [m]; 0 where nothing is covered.
    share : ndarray of float64, shape (m,)
        Share of the bin's width that usable segments cover.
    """
    usable = usable_segments(x, keep)
    width = np.where(usable, np.diff(x), 0.0)
    if keep is not None and not keep.all():
        z = np.where(keep, z, 0.0)
    area = np.zeros_like(x)
    np.cumsum(width * 0.5 * (z[1:] + z[:-1]), out=area[1:])
    inside = np.clip(edges, x[0], x[-1])
    segment = np.clip(np.searchsorted(x, inside, side="right") - 1, 0, x.size - 2)
    into = np.where(usable[segment], inside - x[segment], 0.0)
    area_at = area[segment] + into * 0.5 * (z[segment] + np.interp(inside, x, z))
    if usable.all():
        covered = np.diff(inside)
    else:
        reach = np.zeros_like(x)
        np.cumsum(width, out=reach[1:])
        covered = np.diff(reach[segment] + into)
    mean = np.diff(area_at) / np.where(covered > 0.0, covered, 1.0)
    return mean, covered / np.diff(edges)
