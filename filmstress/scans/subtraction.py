"""Difference of two scans on one grid, without inventing detail."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.records.notice import RefusalCode
from filmstress.scans.resample import GAP_STEPS, bin_means, typical_step

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

OVERLAP = 0.5  # least share of the shorter scan that both must have in common
MUCH_FINER = 4.0  # ratio of the steps from which the finer scan is averaged, not interpolated


def subtract(
    x_pre: Floats,
    z_pre: Floats,
    keep_pre: Bools | None,
    x_post: Floats,
    z_post: Floats,
    keep_post: Bools | None,
    *,
    offset_m: float = 0.0,
    reversed: bool = False,
) -> tuple[Floats, Floats, Bools]:
    """Height after minus height before, at the points of the coarser scan.

    The finer scan is interpolated linearly; where it is at least four times as fine it is
    averaged over one step of the coarser scan about each of its points, which keeps its noise low
    and adds the same constant to every point of a parabola.

    Parameters
    ----------
    x_pre, z_pre, x_post, z_post : ndarray of float64
        Positions, strictly increasing, and heights [m].
    keep_pre, keep_post : ndarray of bool or None
        Points that may be used; None is all.
    offset_m : float
        Placement found by registration [m].
    reversed : bool
        A post point at x lies on the wafer at ``offset_m + x``, or at ``offset_m - x`` if True.

    Returns
    -------
    x, dz : ndarray of float64
        Position on the wafer, increasing, and difference [m].
    keep : ndarray of bool
        False where the point or a neighbour it would need is masked, or lies across a gap of more
        than three steps.

    Raises
    ------
    MeasurementRefused
        Code "no-overlap": the scans have less than half of the shorter one in common.
    """
    before = (x_pre, z_pre, keep_pre)
    if reversed:
        kept = None if keep_post is None else keep_post[::-1]
        after = (offset_m - x_post[::-1], z_post[::-1], kept)
    else:
        after = (offset_m + x_post, z_post, keep_post)
    ends = max(before[0][0], after[0][0]), min(before[0][-1], after[0][-1])
    common = float(ends[1] - ends[0])
    if common < OVERLAP * min(float(np.ptp(scan[0][[0, -1]])) for scan in (before, after)):
        raise MeasurementRefused(
            f"the two scans have {max(common, 0.0) * 1e3:.3g} mm in common, less than half of the "
            "shorter one",
            code=RefusalCode.NO_OVERLAP,
            hint="check origin, window, offset and position unit of both scans",
        )
    if typical_step(before[0]) > typical_step(after[0]):
        x, z, keep = _within(*before, ends)
        other, usable = _at(x, *after)
        return x, other - z, keep & usable
    x, z, keep = _within(*after, ends)
    other, usable = _at(x, *before)
    return x, z - other, keep & usable


def _within(
    x: Floats, z: Floats, keep: Bools | None, ends: tuple[float, float]
) -> tuple[Floats, Floats, Bools]:
    part = slice(np.searchsorted(x, ends[0], "left"), np.searchsorted(x, ends[1], "right"))
    kept = np.ones(x[part].size, dtype=bool) if keep is None else keep[part]
    return x[part], z[part], kept


def _at(points: Floats, x: Floats, z: Floats, keep: Bools | None) -> tuple[Floats, Bools]:
    """Heights of a scan at other points, and where it can give them."""
    step, own_step = typical_step(points), typical_step(x)
    if step >= MUCH_FINER * own_step:
        means, share = bin_means(x, z, keep, points - 0.5 * step, points + 0.5 * step)
        return means, share > 1.0 - 1e-6
    heights = np.interp(points, x, z)
    usable = np.ones(points.size, dtype=bool)
    if keep is not None and not keep.all():
        # A point that falls on one of its neighbours needs that one only.
        usable = np.interp(points, x, (~keep).astype(np.float64)) == 0.0
    gaps = np.flatnonzero(np.diff(x) > GAP_STEPS * own_step)
    if gaps.size:
        beyond = np.searchsorted(x[gaps + 1], points, "right")
        usable &= beyond == np.searchsorted(x[gaps], points, "left")
    return heights, usable
