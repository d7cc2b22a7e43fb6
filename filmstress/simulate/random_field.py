"""A random field on a plane: the waviness of a wafer, the straightness error of a stage."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

MODES = 128
_CHUNK = 2048  # points at a time: the table of cosines stays in the cache


@dataclass(frozen=True, slots=True, eq=False)
class RandomField:
    """A sum of plane waves, known exactly at any place, so that shifts below a sample are exact.

    With wave vectors drawn from the field's spectral density, phases drawn evenly and equal
    amplitudes, the autocovariance over all draws is exactly rms^2 exp(-d^2 / 2 l^2) for any
    number of waves (Shinozuka & Jan, Journal of Sound and Vibration 25 (1972) 111,
    DOI 10.1016/0022-460X(72)90600-1: simulation by a series of cosines; the Gaussian
    autocovariance has the Gaussian spectral density of standard deviation 1/l in each direction).

    Attributes
    ----------
    kx, ky : ndarray of float64, shape (modes,)
        Wave vectors [rad/m].
    phase : ndarray of float64, shape (modes,)
        [rad].
    amplitude : float
        Of each wave [m].
    """

    kx: NDArray[np.float64]
    ky: NDArray[np.float64]
    phase: NDArray[np.float64]
    amplitude: float

    @classmethod
    def draw(cls, rng: np.random.Generator, *, rms_m: float, length_m: float) -> RandomField:
        """Draw a field of standard deviation ``rms_m`` and correlation length ``length_m`` [m]."""
        wave_vectors = rng.standard_normal((2, MODES)) / length_m
        phase = rng.uniform(0.0, 2.0 * math.pi, MODES)
        return cls(wave_vectors[0], wave_vectors[1], phase, rms_m * math.sqrt(2.0 / MODES))

    @classmethod
    def draw_rough(
        cls, rng: np.random.Generator, *, rms_m: float, length_m: float, modes: int = 8 * MODES
    ) -> RandomField:
        """Draw a field of autocovariance rms^2 exp(-d / l), that of slow noise.

        Its spectral density falls as (1 + k^2 l^2)^(-3/2), a Cauchy distribution of two
        dimensions: a normal vector over an independent normal number.
        """
        wave_vectors = rng.standard_normal((2, modes)) / length_m
        wave_vectors /= np.abs(rng.standard_normal(modes))
        phase = rng.uniform(0.0, 2.0 * math.pi, modes)
        return cls(wave_vectors[0], wave_vectors[1], phase, rms_m * math.sqrt(2.0 / modes))

    def on_grid(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
        """Height [m] on the grid of columns x and rows y [m], shape (rows, columns)."""
        if self.amplitude == 0.0:
            return np.zeros((y.size, x.size))
        rows = np.exp(1j * (np.multiply.outer(y, self.ky) + self.phase))
        columns = np.exp(1j * np.multiply.outer(self.kx, x))
        height: NDArray[np.float64] = self.amplitude * (rows @ columns).real
        return height

    def __call__(self, x: ArrayLike, y: ArrayLike = 0.0) -> NDArray[np.float64]:
        """Height [m] at the places (x, y) [m], shape (n,)."""
        along, across = np.broadcast_arrays(np.asarray(x, np.float64), np.asarray(y, np.float64))
        height = np.zeros(along.shape)
        if self.amplitude == 0.0:
            return height
        for start in range(0, height.size, _CHUNK):
            part = slice(start, start + _CHUNK)
            angle = np.multiply.outer(along[part], self.kx)
            angle += np.multiply.outer(across[part], self.ky)
            angle += self.phase
            height[part] = self.amplitude * np.cos(angle).sum(axis=1)
        return height
