"""The change of a whole map: difference, dust out, quadratic surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.records.scan import HeightMap
from filmstress.stats.area_means import far_from_medians
from filmstress.stats.surface_fit import SurfaceFit, fit_surface

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceChange:
    """The quadratic surface through the change of a map.

    Attributes
    ----------
    fit : SurfaceFit
        Curvatures (xx, yy, xy) in the map's axes [1/m].
    points, points_used : int
        Differences inside the area, and those without dust and wild points.
    """

    fit: SurfaceFit
    points: int
    points_used: int


def surface_change(
    pre: HeightMap,
    post: HeightMap,
    *,
    offset_m: tuple[float, float] = (0.0, 0.0),
    radius_m: float = np.inf,
    setting: str = "balanced",
) -> SurfaceChange:
    """Fit a quadratic surface to post minus pre, both seen from the middles of their grids.

    Parameters
    ----------
    pre, post : HeightMap
    offset_m : (float, float)
        A post point at (x, y) lies on the wafer at (x, y) + offset, seen as pre shows it [m].
    radius_m : float
        Of the circle around the wafer's centre that is used [m].
    setting : str
        Setting of the noise model.

    Raises
    ------
    RefusedInput
        What is measured in both fills too little of the circle.
    """
    x, y, dz = map_difference(pre, post, offset_m=offset_m)
    inside = np.isfinite(dz) & (np.hypot(x, y) <= radius_m)
    x, y, dz = x[inside], y[inside], dz[inside]
    first = fit_surface(x, y, dz, setting=setting)
    used = ~far_from_medians(x, y, dz - first.height(x, y))
    fit = first if used.all() else fit_surface(x[used], y[used], dz[used], setting=setting)
    return SurfaceChange(fit, int(dz.size), int(np.count_nonzero(used)))


def map_difference(
    pre: HeightMap, post: HeightMap, *, offset_m: tuple[float, float] = (0.0, 0.0)
) -> tuple[Floats, Floats, Floats]:
    """Places on the wafer and post minus pre there, at every point of post's grid.

    ``pre`` is interpolated between its four neighbours; where one that is needed was not measured,
    the difference is NaN.

    Returns
    -------
    x, y, dz : ndarray, shape (rows, columns)
        From the middle of the grid of ``pre`` [m].
    """
    x, y = np.meshgrid(
        _from_middle(post.x) + offset_m[0], _from_middle(post.y) + offset_m[1], copy=False
    )
    left, along = _neighbours(_from_middle(pre.x), x[0])
    below, across = _neighbours(_from_middle(pre.y), y[:, 0])
    rows = _between(pre.z[below], pre.z[np.minimum(below + 1, pre.y.size - 1)], across[:, None])
    right = np.minimum(left + 1, pre.x.size - 1)
    return x, y, post.z - _between(rows[:, left], rows[:, right], along[None, :])


def _from_middle(axis: Floats) -> Floats:
    return np.asarray(axis - 0.5 * (axis[0] + axis[-1]))


def _neighbours(axis: Floats, places: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Which point lies before each place, and the share of the way to the next; NaN outside."""
    steps = (places - axis[0]) * ((axis.size - 1) / (axis[-1] - axis[0]))
    nearest = np.rint(steps)
    steps = np.where(np.abs(steps - nearest) < 1e-6, nearest, steps)
    outside = (steps < 0.0) | (steps > axis.size - 1)
    before = np.clip(np.floor(steps), 0, axis.size - 1).astype(np.intp)
    share = steps - before
    share[outside] = np.nan
    return before, share


def _between(one: Floats, other: Floats, share: Floats) -> Floats:
    """Linear between two; one without weight may be missing."""
    mixed = (1.0 - share) * one + share * other
    return np.where(share == 0.0, one, mixed)
