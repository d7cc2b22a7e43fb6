"""A quadratic surface under residuals that may be correlated over any length.

The surface is averaged over squares, fitted under white plus isotropic, exponentially correlated
noise of every length and mixture, and the fits are averaged by how well the residuals support each:
what `filmstress.stats.noise` does along a line.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.area_family import area_family
from filmstress.stats.area_means import AreaMeans, area_means
from filmstress.stats.averaging import Setting, average_fits
from filmstress.stats.reml import fit_family

Floats = NDArray[np.float64]

_CURVATURES = (3, 4, 5)
# No noise is quite of the family; with hundreds of squares its likelihood would be too sure.
_TEMPER = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceFit:
    """z = a + b x + c y + k_xx x^2 / 2 + k_xy x y + k_yy y^2 / 2.

    Attributes
    ----------
    curvature : ndarray, shape (3,)
        (xx, yy, xy) [1/x].
    covariance : ndarray, shape (3, 3)
        Of these.
    dof : ndarray, shape (3,)
        Degrees of freedom of each variance.
    width : float
        Of the area [x].
    correlation_length : float
        Of the residuals, averaged over the family [x].
    white_share : float
        Share of white noise in the variance of a mean [1].
    established : bool
        Whether the residuals themselves rule out slow drift that passes for the surface.
    residual_rms : float
        Of the means over squares [z].
    means : AreaMeans
    coefficients : ndarray, shape (6,)
        Of the means' ``moments``.
    """

    curvature: Floats
    covariance: Floats
    dof: Floats
    width: float
    correlation_length: float
    white_share: float
    established: bool
    residual_rms: float
    means: AreaMeans
    coefficients: Floats

    def height(self, x: Floats, y: Floats) -> Floats:
        """Height of the surface at places [z]."""
        means, c = self.means, self.coefficients
        s = (x - means.centre_x) / means.half_width
        t = (y - means.centre_y) / means.half_width
        height: Floats = c[0] + c[1] * s + c[2] * t + c[3] * s**2 + c[4] * s * t + c[5] * t**2
        return height


def fit_surface(
    x: Floats, y: Floats, z: Floats, *, setting: Setting | str = Setting.BALANCED
) -> SurfaceFit:
    """Fit a quadratic surface.

    Parameters
    ----------
    x, y, z : ndarray, shape (n,)
        Places and heights of the points, finite.
    setting : Setting or str
        "sharp", "balanced" or "safe".

    Raises
    ------
    RefusedInput
        The points fill too little of their area.

    Notes
    -----
    ``python -m tests.benchmarks.surface_coverage`` counts how often the 95 % intervals hold.
    """
    means = area_means(x, y, z)
    solve = np.asarray(np.linalg.pinv(means.moments.T), dtype=np.float64)
    coefficients = solve @ means.z
    coefficients += solve @ (means.z - coefficients @ means.moments)
    rest = means.z - coefficients @ means.moments
    scale = float(np.abs(rest).max()) or 1.0
    family = area_family(means)
    # Well conditioned: squares less their mean over the area.
    regressors = means.moments.copy()
    regressors[3:] -= means.moments[3:].mean(axis=1)[:, None]
    fits = fit_family(family, regressors, (rest / scale)[:, None])
    fits = replace(
        fits,
        coefficients=np.zeros_like(fits.coefficients),
        inverse_normal=family.covariance(solve),
        log_likelihood=_TEMPER * fits.log_likelihood,
    )
    parts = [average_fits(family, fits, setting=Setting(setting), of=i) for i in _CURVATURES]
    first = parts[0]
    weight = first.weight[:, 0]
    joint = np.tensordot(weight * fits.scale[:, 0], fits.inverse_normal, axes=1)[3:, 3:]
    spread = np.sqrt([float(part.variance[0]) for part in parts])
    root = np.sqrt(np.diag(joint))
    covariance = scale**2 * joint * np.multiply.outer(spread / root, spread / root)
    # The coefficients of s^2, s t, t^2 to second derivatives, in the order xx, yy, xy.
    per = 1.0 / means.half_width**2
    mapping = per * np.array([[2.0, 0.0, 0.0], [0.0, 0.0, 2.0], [0.0, 1.0, 0.0]])
    correlated = weight * (1.0 - family.white_share)
    width = 2.0 * means.half_width
    return SurfaceFit(
        curvature=mapping @ coefficients[3:],
        covariance=mapping @ covariance @ mapping.T,
        dof=np.array([float(parts[i].dof[0]) for i in (0, 2, 1)]),
        width=width,
        correlation_length=width
        * float(np.exp(correlated @ np.log(family.length) / correlated.sum())),
        white_share=float(weight @ family.white_share),
        established=bool(first.established[0]),
        residual_rms=float(np.sqrt(np.mean((means.z - coefficients @ means.moments) ** 2))),
        means=means,
        coefficients=coefficients,
    )
