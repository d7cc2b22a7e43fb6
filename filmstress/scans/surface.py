"""The curvatures of a whole map: dust out, quadratic surface, principal axes."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput, ScanError
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Estimate
from filmstress.records.scan import HeightMap
from filmstress.records.surface import MapCurvature
from filmstress.scans.remarks import MASKED_SHARE_LIMIT
from filmstress.stats.coverage import estimate
from filmstress.stats.surface_fit import SurfaceFit, fit_surface

Floats = NDArray[np.float64]

# Beyond a few tenths of a radian an axis is not known at all.
_AXIS_LIMIT_RAD = 0.4


def map_curvature(height_map: HeightMap, *, setting: str = "balanced") -> MapCurvature:
    """Fit a quadratic surface to everything that a map holds.

    Parameters
    ----------
    height_map : HeightMap
    setting : str
        Setting of the noise model: "sharp", "balanced" or "safe".

    Raises
    ------
    ScanError
        What is measured fills too little of an area.

    Notes
    -----
    The principal curvatures are those along the axis that was found, to first order.  Where they
    are alike and the axis is noise, they stand too far apart by about their standard uncertainty.
    """
    rows, columns = np.nonzero(np.isfinite(height_map.z))
    x, y, z = height_map.x[columns], height_map.y[rows], height_map.z[rows, columns]
    try:
        fit = fit_surface(x, y, z, setting=setting)
    except RefusedInput as error:
        raise ScanError(error.message, where=height_map.source.path, hint=error.hint) from None
    axis = _axis(fit)
    return MapCurvature(
        source=height_map.source,
        rows=height_map.y.size,
        columns=height_map.x.size,
        width=float(np.ptp(x)),
        height=float(np.ptp(y)),
        points=int(z.size),
        points_used=int(np.count_nonzero(fit.used)),
        lowest_to_highest=float(np.ptp(z)),
        xx=_of(fit, [1.0, 0.0, 0.0]),
        yy=_of(fit, [0.0, 1.0, 0.0]),
        xy=_of(fit, [0.0, 0.0, 1.0]),
        covariance=fit.covariance,
        mean=_of(fit, [0.5, 0.5, 0.0]),
        high=_of(fit, along(axis.value)),
        low=_of(fit, along(axis.value + 0.5 * math.pi)),
        axis=axis,
        residual_rms=fit.residual_rms,
        correlation_length=fit.correlation_length,
        white_share=fit.white_share,
        established=fit.established and not fit.directed,
        warnings=tuple(_warnings(fit)),
    )


def along(azimuth_rad: float) -> list[float]:
    """Parts of xx, yy and xy in the curvature along an azimuth: Euler's theorem."""
    cos, sin = math.cos(azimuth_rad), math.sin(azimuth_rad)
    return [cos * cos, sin * sin, 2.0 * sin * cos]


def _of(fit: SurfaceFit, parts: list[float]) -> Estimate:
    row = np.array(parts)
    u = math.sqrt(float(row @ fit.covariance @ row))
    return estimate(float(row @ fit.curvature), "1/m", u=u, dof=fit.dof)


def _axis(fit: SurfaceFit) -> Estimate:
    """Where the curvature is largest, theta = atan2(2 xy, xx - yy) / 2, to first order."""
    xx, yy, xy = fit.curvature.tolist()
    size = math.hypot(xx - yy, 2.0 * xy)
    if size**2 == 0.0:
        return estimate(0.0, "rad", u=None)
    gradient = np.array([-xy, xy, xx - yy]) / size**2
    u = math.sqrt(float(gradient @ fit.covariance @ gradient))
    angle = (0.5 * math.atan2(2.0 * xy, xx - yy)) % math.pi
    if u >= _AXIS_LIMIT_RAD:
        return estimate(angle, "rad", u=None)
    return estimate(angle, "rad", u=u, dof=fit.dof)


def _warnings(fit: SurfaceFit) -> list[Notice]:
    found = []
    masked = 1.0 - float(np.count_nonzero(fit.used)) / fit.used.size
    if masked > MASKED_SHARE_LIMIT:
        found.append(
            Notice(
                WarningCode.MASKED_SHARE,
                f"{100 * masked:.0f} % of the map's points were masked as dust or dropouts; clean "
                "the wafer or repeat the map",
            )
        )
    if fit.directed:
        found.append(
            Notice(
                WarningCode.UNCERTAINTY_NOT_ESTABLISHED,
                "what the surface leaves runs in one direction, as where rows are offset against "
                "each other; the uncertainty is that of noise alike in all directions",
            )
        )
    if not fit.established:
        found.append(
            Notice(
                WarningCode.UNCERTAINTY_NOT_ESTABLISHED,
                "what the surface leaves is correlated over so much of the map that it cannot "
                "establish its own uncertainty; repeat it, re-loaded each time",
            )
        )
    return found
