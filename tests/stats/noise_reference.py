"""The noise family written out densely, for comparison."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def ou_block_covariance(blocks: int, length: float) -> Floats:
    """Covariance of means of exp(-|h| / l) over equal blocks of the unit interval.

    With r = 1 / (blocks l): 2 (r - 1 + exp(-r)) / r^2 on the diagonal and
    ((1 - exp(-r)) / r)^2 exp(-(k - 1) r) k blocks away from it.
    """
    r = 1.0 / (blocks * length)
    lag = np.arange(blocks)
    row = (np.expm1(-r) / r) ** 2 * np.exp(-(lag - 1) * r)
    row[0] = 2.0 * (r + np.expm1(-r)) / r**2
    return row[np.abs(lag[:, None] - lag)]


def covariance(
    blocks: int, length: float, white_share: float, index: NDArray[np.intp], count: Floats
) -> Floats:
    """q W + (1 - q) C of the filled blocks."""
    raw = ou_block_covariance(blocks, length)
    white = np.diag(count.mean() / count)
    return white_share * white + (1.0 - white_share) * raw[np.ix_(index, index)] / raw[0, 0]
