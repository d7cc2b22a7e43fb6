"""Waves beside a parabola: amplitude by least squares on the single points."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_CHUNK = 1 << 16


@dataclass(frozen=True, slots=True)
class Wave:
    """cosine cos(2 pi f (x - centre)) + sine sin(2 pi f (x - centre)).

    Attributes
    ----------
    frequency : float
        f [cycles per unit of x].
    cosine, sine : float
        [y].
    centre : float
        [x].
    """

    frequency: float
    cosine: float
    sine: float
    centre: float

    @property
    def amplitude(self) -> float:
        """Half the height from trough to crest [y]."""
        return math.hypot(self.cosine, self.sine)

    def height(self, x: Floats) -> Floats:
        """Evaluate the wave at ``x`` [y]."""
        phase = (2.0 * math.pi * self.frequency) * (x - self.centre)
        return self.cosine * np.cos(phase) + self.sine * np.sin(phase)


def fit_waves(
    x: Floats,
    y: Floats,
    frequencies: Sequence[float],
    *,
    centre: float,
    keep: Mask | None = None,
) -> tuple[Wave, ...]:
    """Fit waves of known frequency to heights free of their slow part, all at once.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Positions and heights with any parabola taken out.
    frequencies : sequence of float
        [cycles per unit of x].
    centre : float
        Where the phase is counted from [x].
    keep : ndarray of bool, shape (n,), optional
        True for the points to use.
    """
    size = 2 * len(frequencies)
    normal, right = np.zeros((size, size)), np.zeros(size)
    for start in range(0, x.size, _CHUNK):
        piece = slice(start, start + _CHUNK)
        px, py = x[piece] - centre, y[piece]
        if keep is not None:
            px, py = px[keep[piece]], py[keep[piece]]
        phases = [(2.0 * math.pi * f) * px for f in frequencies]
        rows = np.array([row for phase in phases for row in (np.cos(phase), np.sin(phase))])
        normal += rows @ rows.T
        right += rows @ py
    amplitudes = np.linalg.lstsq(normal, right, rcond=None)[0]
    return tuple(
        Wave(float(f), float(cosine), float(sine), centre)
        for f, cosine, sine in zip(frequencies, amplitudes[::2], amplitudes[1::2], strict=True)
    )
