"""Bin means of a trace without inventing detail: what is masked or lies in a gap stays empty."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.median import median

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

GAP_STEPS = 3.0


def typical_step(x: Floats) -> float:
    """Median distance between neighbouring points, from at most some 2000 of them."""
    stride = max(1, x.size // 2000)
    if stride == 1:
        return median(np.diff(x))
    starts = x[:-1:stride]
    return median(x[1::stride][: starts.size] - starts)


def usable_segments(x: Floats, keep: Bools | None) -> Bools:
    """Whether the way from each point to the next may be interpolated: both kept, and no gap."""
    usable: Bools = np.diff(x) <= GAP_STEPS * typical_step(x)
    if keep is not None:
        usable &= keep[1:]
        usable &= keep[:-1]
    return usable


def bin_means(
    x: Floats, z: Floats, keep: Bools | None, low: Floats, high: Floats
) -> tuple[Floats, Floats]:
    """Mean height over each bin, of the straight lines between neighbouring usable points.

    The mean of a line over a bin is its value at the bin's centre, so a tilt passes unchanged
    however the points are spread; a parabola gains the constant curvature * width^2 / 24.

    Parameters
    ----------
    x, z : ndarray of float64, shape (n,)
        Points, x strictly increasing [m].
    keep : ndarray of bool, shape (n,), or None
        Points that may be used; None is all.
    low, high : ndarray of float64, shape (m,)
        Ends of the bins, each increasing [m].

    Returns
    -------
    mean : ndarray of float64, shape (m,)
        Mean height over what is covered [m]; 0 where nothing is.
    share : ndarray of float64, shape (m,)
        Share of the bin's width that usable segments cover.
    """
    usable = usable_segments(x, keep)
    width = np.diff(x)
    datum = float(z[0] if keep is None or not keep.any() else z[np.argmax(keep)])
    area = z[1:] + z[:-1]
    area -= 2.0 * datum  # a large mean would cost digits in the sums
    area *= width
    if not usable.all():
        width *= usable
        area[~usable] = 0.0
    np.cumsum(area, out=area)
    np.cumsum(width, out=width)

    def up_to(ends: Floats) -> tuple[Floats, Floats]:
        inside = np.clip(ends, x[0], x[-1])
        segment = np.clip(np.searchsorted(x, inside, side="right") - 1, 0, x.size - 2)
        into = np.where(usable[segment], inside - x[segment], 0.0)
        share = into / (x[segment + 1] - x[segment])
        height = z[segment] - datum + 0.5 * share * (z[segment + 1] - z[segment])
        first = segment == 0
        whole = np.where(first, 0.0, area[segment - 1]), np.where(first, 0.0, width[segment - 1])
        return 0.5 * whole[0] + np.where(into > 0.0, into * height, 0.0), whole[1] + into

    area_low, reach_low = up_to(low)
    area_high, reach_high = up_to(high)
    covered = reach_high - reach_low
    mean = np.where(covered > 0.0, datum, 0.0)
    mean += (area_high - area_low) / np.where(covered > 0.0, covered, 1.0)
    return mean, covered / (high - low)
