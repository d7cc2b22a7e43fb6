"""What a parabola fitted under correlated residuals carries."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.stats.averaging import Setting
from filmstress.stats.block_means import BlockMeans
from filmstress.stats.waves import Wave

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class NoiseModel:
    """The best supported member of the noise family, as noise of single points.

    Attributes
    ----------
    slow_sd, slow_length : float
        Standard deviation [y] and correlation length [x] of the exponentially correlated part.
    fast_sd, fast_length : float
        Of the part that the blocks see as white [y, x]; the length is 0 where single points are
        independent.
    """

    slow_sd: float
    slow_length: float
    fast_sd: float
    fast_length: float


@dataclass(frozen=True, slots=True)
class Parabola:
    """offset + tilt (x - centre) + curvature / 2 (x - centre)^2."""

    centre: float
    offset: float
    tilt: float
    curvature: float

    def height(self, x: ArrayLike) -> Floats:
        """Evaluate the parabola at ``x`` [y]."""
        d = np.asarray(x, dtype=np.float64) - self.centre
        height: Floats = self.offset + d * (self.tilt + (0.5 * self.curvature) * d)
        return height


@dataclass(frozen=True, slots=True, eq=False)
class QuadraticFit:
    """A fitted parabola, its uncertainty, and the noise it was fitted under.

    Attributes
    ----------
    parabola : Parabola
        The fit, about the middle of the points used.
    u, dof : float
        Standard uncertainty of the curvature [y / x^2] and the degrees of freedom of that.
    length : float
        From the first to the last point used [x].
    covariance : ndarray, shape (3, 3)
        Of (offset, tilt, curvature); its last entry is u^2.
    correlation_length : float
        Of the correlated part of the residuals, averaged [x]; it means little where
        ``white_share`` is near 1.
    white_share : float
        Share of the block means' variance that is not correlated [1].
    long_memory : float
        Weight of correlation over more than a quarter of the trace [1].
    established : bool
        Whether the residuals rule such correlation out.  Where they do not, drift may pass for
        curvature and the interval may hold less often than it says.
    residual_rms : float
        Of the single points used [y].
    points_used : int
        Points used.
    setting : Setting
        How much slow drift was taken to be possible.
    waves : tuple of Wave
        Waves fitted along.
    blocks : BlockMeans
        The averaged trace.
    regressors : ndarray, shape (p, m)
        What its means were fitted by; the first three rows are Legendre polynomials 0, 1, 2.
    block_residual : ndarray, shape (m,)
        Block means minus the fit [y].
    noise : NoiseModel
        For drawing residuals like these.
    """

    parabola: Parabola
    u: float
    dof: float
    length: float
    covariance: Floats
    correlation_length: float
    white_share: float
    long_memory: float
    established: bool
    residual_rms: float
    points_used: int
    setting: Setting
    waves: tuple[Wave, ...]
    blocks: BlockMeans
    regressors: Floats
    block_residual: Floats
    noise: NoiseModel

    @property
    def curvature(self) -> float:
        """Second derivative [y / x^2]."""
        return self.parabola.curvature

    @property
    def offset(self) -> float:
        """Height at the centre [y]."""
        return self.parabola.offset

    @property
    def tilt(self) -> float:
        """Slope at the centre [y / x]."""
        return self.parabola.tilt

    @property
    def centre(self) -> float:
        """Middle of the points used [x]."""
        return self.parabola.centre

    def height(self, x: ArrayLike) -> Floats:
        """Evaluate the fitted parabola at ``x``, without the waves [y]."""
        return self.parabola.height(x)

    def height_u(self, x: ArrayLike) -> Floats:
        """Evaluate the standard uncertainty of the fitted parabola at ``x`` [y]."""
        d = np.asarray(x, dtype=np.float64) - self.centre
        basis = np.stack([np.ones_like(d), d, 0.5 * d * d])
        variance = np.einsum("i...,ij,j...->...", basis, self.covariance, basis)
        u: Floats = np.sqrt(np.maximum(variance, 0.0))
        return u

    def residual(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Subtract the fitted parabola and waves from ``y`` [y]."""
        at = np.asarray(x, dtype=np.float64)
        rest: Floats = np.asarray(y, dtype=np.float64) - self.height(at)
        for wave in self.waves:
            rest -= wave.height(at)
        return rest
