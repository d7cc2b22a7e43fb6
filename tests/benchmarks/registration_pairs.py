"""Pairs of scans with a known placement, drawn in frequency so that any offset is exact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Kind:
    """What two scans have in common and what they have not.

    ``same_m`` is the rms of the waviness both share, ``other_m`` that of the waviness which only
    one scan has; ``stage_m`` that of the stage's straightness error, in both scans at the same
    place of the file.  ``spectrum`` is "smooth" (Gaussian covariance), "rough" (exponential
    covariance, smooth below 20 um) or "power" (power law of -3 below 30 mm).
    """

    same_m: float = 100e-9
    other_m: float = 0.0
    stage_m: float = 0.0
    length_m: float = 2e-3
    spectrum: str = "smooth"
    white_m: float = 2e-9
    correlated_m: float = 0.0
    scan_m: float = 100e-3
    points: int = 5000
    offset_m: float | None = None  # None: drawn between -4 and 4 mm
    reversed_share: float = 0.3
    film_m: float = 30e-6
    unevenness: float = 0.02


@dataclass(frozen=True)
class Pair:
    """Two scans and the truth about them."""

    x: Floats
    z_pre: Floats
    z_post: Floats
    offset_m: float
    reversed: bool


def _density(spectrum: str, omega: Floats, length_m: float) -> Floats:
    if spectrum == "smooth":
        return np.exp(-0.5 * (omega * length_m) ** 2)
    cut = np.exp(-((omega * 20e-6) ** 2))
    if spectrum == "rough":
        return cut / (1.0 + (omega * length_m) ** 2)
    return cut / (1.0 + (omega * 5e-3) ** 2) ** 1.5


class Field:
    """A stationary random line twice as long as the scan, known at every position."""

    def __init__(self, rng: np.random.Generator, x: Floats, density: str, length_m: float) -> None:
        self.n = x.size
        self.omega = 2.0 * np.pi * np.fft.rfftfreq(2 * self.n, x[1] - x[0])
        amplitude = np.sqrt(_density(density, self.omega, length_m))
        amplitude[0] = 0.0
        waves = rng.normal(size=(2, self.omega.size))
        rms = np.sqrt(4.0 * np.sum(amplitude**2)) / (2 * self.n)
        self.spectrum = amplitude / rms * (waves[0] + 1j * waves[1])

    def at(self, offset_m: float = 0.0, *, reversed: bool = False) -> Floats:
        """Heights of unit rms at x + offset, or at offset - x, for x centred on the field."""
        moved = self.spectrum * np.exp(1j * self.omega * offset_m)
        line = np.fft.irfft(moved, 2 * self.n)[self.n // 2 : self.n // 2 + self.n]
        return line[::-1] if reversed else line


def draw_pair(kind: Kind, rng: np.random.Generator) -> Pair:
    """Draw one pair."""
    n = kind.points
    x = (np.arange(n) - 0.5 * (n - 1)) * kind.scan_m / (n - 1)
    offset = rng.uniform(-4e-3, 4e-3) if kind.offset_m is None else kind.offset_m
    turned = bool(rng.random() < kind.reversed_share)
    same, one, other = (Field(rng, x, kind.spectrum, kind.length_m) for _ in range(3))
    stage = kind.stage_m * Field(rng, x, kind.spectrum, 1.3 * kind.length_m).at()
    t = 2.0 * x / kind.scan_m
    cubic, quartic = kind.unevenness * rng.normal(size=2)
    film = kind.film_m * (t**2 + cubic * t**3 + quartic * t**4) + 1e-3 * rng.normal() * x

    def noise() -> Floats:
        drift = Field(rng, x, "rough", 1e-3).at()
        return kind.white_m * rng.normal(size=n) + kind.correlated_m * drift

    bow = 1e-6 * t**2 + stage
    pre = kind.same_m * same.at() + kind.other_m * one.at() + bow + noise()
    post = kind.same_m * same.at(offset, reversed=turned) + kind.other_m * other.at()
    return Pair(x, pre, post + bow + film + noise(), offset, turned)
