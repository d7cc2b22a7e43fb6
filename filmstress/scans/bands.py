"""Bands of frequencies over which spectra are averaged."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@lru_cache(maxsize=16)
def band_starts(size: int) -> NDArray[np.intp]:
    """First ordinate of each band of frequencies; the bands widen in proportion to the frequency.

    The narrowest hold 6 ordinates of a transform padded to two to four times the scan: some two to
    three independent waves.
    """
    starts = [1]
    while starts[-1] <= size // 2:
        starts.append(starts[-1] + max(6, starts[-1] // 3))
    return np.array(starts[:-1], dtype=np.intp)


@lru_cache(maxsize=16)
def band_counts(size: int) -> NDArray[np.intp]:
    """Number of ordinates in each band."""
    return np.diff(np.append(band_starts(size), size // 2 + 1))


def band_means(ordinates: Floats, size: int) -> Floats:
    """Mean over each band of something given for each of the size/2 + 1 frequencies."""
    means: Floats = np.add.reduceat(ordinates, band_starts(size)) / band_counts(size)
    return means


def over_bands(values: Floats, size: int) -> Floats:
    """Each band's value at all its ordinates; 0 at frequency zero."""
    return np.concatenate(([0.0], np.repeat(values, band_counts(size))))
