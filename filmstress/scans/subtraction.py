"""Difference of two scans on one grid, without inventing detail."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.records.notice import RefusalCode

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

GAP_STEPS = 3.0
MIN_SHARE = 0.5


def subtract(
    x_pre: Floats,
    z_pre: Floats,
    keep_pre: Mask | None,
    x_post: Floats,
    z_post: Floats,
    keep_post: Mask | None,
    *,
    offset_m: float = 0.0,
    reversed: bool = False,  # noqa: A002 - the word of the registration
) -> tuple[Floats, Floats, Mask]:
    """Height after minus before, on the points of the coarser scan.

    Parameters
    ----------
    x_pre, z_pre, x_post, z_post : ndarray
        Positions, strictly increasing, and heights [m].
    keep_pre, keep_post : ndarray of bool or None
        Points that may be used.
    offset_m, reversed
        Placement: a post point at x lies on the wafer at offset + x, or at offset - x.

    Returns
    -------
    x, dz, keep : ndarray
        Position on the wafer [m], increasing; difference [m]; False where either scan has a masked
        point beside it, or a gap of more than three steps.

    Raises
    ------
    MeasurementRefused
        If the scans overlap by less than half of the shorter one.
    """
    all_pre = np.ones(x_pre.size, bool) if keep_pre is None else keep_pre
    all_post = np.ones(x_post.size, bool) if keep_post is None else keep_post
    if reversed:
        on_wafer, z_after, kept = offset_m - x_post[::-1], z_post[::-1], all_post[::-1]
    else:
        on_wafer, z_after, kept = offset_m + x_post, z_post, all_post
    low, high = max(x_pre[0], on_wafer[0]), min(x_pre[-1], on_wafer[-1])
    shorter = min(x_pre[-1] - x_pre[0], on_wafer[-1] - on_wafer[0])
    if high - low < MIN_SHARE * shorter:
        raise MeasurementRefused(
            f"the two scans have {max(high - low, 0.0) * 1e3:.3g} mm in common",
            code=RefusalCode.NO_OVERLAP,
            hint="check origin and azimuth of both scans",
        )
    if _step(x_pre) > _step(on_wafer):
        x, z, keep = _cut(x_pre, z_pre, all_pre, low, high)
        other, covered = _at(x, on_wafer, z_after, kept)
        return x, other - z, keep & covered
    x, z, keep = _cut(on_wafer, z_after, kept, low, high)
    other, covered = _at(x, x_pre, z_pre, all_pre)
    return x, z - other, keep & covered


def _step(x: Floats) -> float:
    return float(x[-1] - x[0]) / max(x.size - 1, 1)


def _cut(x: Floats, z: Floats, keep: Mask, low: float, high: float) -> tuple[Floats, Floats, Mask]:
    start, stop = np.searchsorted(x, low, "left"), np.searchsorted(x, high, "right")
    return x[start:stop], z[start:stop], keep[start:stop]


def _at(x: Floats, x_other: Floats, z_other: Floats, keep: Mask) -> tuple[Floats, Mask]:
    """The other scan between its own points, and where that is allowed."""
    right = np.clip(np.searchsorted(x_other, x, "left"), 1, x_other.size - 1)
    left = right - 1
    width = x_other[right] - x_other[left]
    share = (x - x_other[left]) / width
    heights = z_other[left] + share * (z_other[right] - z_other[left])
    # A point that lies on one of its neighbours needs that one only.
    usable = (keep[left] | (share >= 1.0)) & (keep[right] | (share <= 0.0))
    return heights, usable & (width <= GAP_STEPS * _step(x_other))
