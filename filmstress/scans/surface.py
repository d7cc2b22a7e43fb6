"""The curvatures of a whole map: dust out, quadratic surface."""

from __future__ import annotations

import numpy as np

from filmstress.records.scan import HeightMap
from filmstress.records.surface import MapCurvature
from filmstress.stats.area_means import far_from_medians
from filmstress.stats.surface_fit import fit_surface


def map_curvature(height_map: HeightMap, *, setting: str = "balanced") -> MapCurvature:
    """Fit a quadratic surface to everything that a map holds.

    Parameters
    ----------
    height_map : HeightMap
    setting : str
        Setting of the noise model: "sharp", "balanced" or "safe".

    Raises
    ------
    RefusedInput
        What is measured fills too little of an area.
    """
    rows, columns = np.nonzero(np.isfinite(height_map.z))
    x, y, z = height_map.x[columns], height_map.y[rows], height_map.z[rows, columns]
    fit = fit_surface(x, y, z, setting=setting)
    used = ~far_from_medians(x, y, z - fit.height(x, y))
    if not used.all():
        fit = fit_surface(x[used], y[used], z[used], setting=setting)
    residual = (z - fit.height(x, y))[used]
    return MapCurvature(
        source=height_map.source,
        shape=height_map.z.shape,
        width=float(np.ptp(x)),
        height=float(np.ptp(y)),
        measured=int(z.size),
        used=int(np.count_nonzero(used)),
        lowest_to_highest=float(np.ptp(z)),
        curvature=fit.curvature,
        covariance=fit.covariance,
        dof=float(fit.dof.min()),
        established=fit.established,
        residual_rms=float(np.sqrt(np.mean(residual**2))),
        correlation_length=fit.correlation_length,
    )
