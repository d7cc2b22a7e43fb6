"""What the parabolas along lines that cross in their middles have in common.

Noise that is correlated over a plane is alike where the lines cross, and so are the curvatures
that it fakes: the mean of several lines is known less well than independent lines would have it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_BLOCKS = 50


def curvature_correlation(
    angles_rad: Floats, *, correlation_length: float, white_share: float
) -> Floats:
    """Correlation between the curvatures of parabolas fitted along crossing lines of one length.

    Parameters
    ----------
    angles_rad : ndarray, shape (k,)
        Angles between the two lines [rad].
    correlation_length : float
        Of the noise over the plane, exp(-distance / length), as a part of the lines' length [1].
    white_share : float
        Share of white noise in the variance of the mean over a fiftieth of a line [1]; white noise
        is not shared.

    Returns
    -------
    ndarray, shape (k,)
        For plain least squares of block means.  Noise correlated over a tenth of the length or
        more: 0.4 to 0.6 at 45 deg, and 0.35 to 0.5 at 90 deg.
    """
    if correlation_length <= 0.0 or white_share >= 1.0:
        return np.zeros(angles_rad.shape)
    x = (np.arange(_BLOCKS) + 0.5) / _BLOCKS - 0.5
    weight = np.linalg.pinv(np.stack([np.ones(_BLOCKS), x, 0.5 * x**2], axis=1))[2]
    blocks = 1.0 / (_BLOCKS * correlation_length)
    lost = -np.expm1(-blocks)
    block_variance = 2.0 * (blocks - lost) / blocks**2
    gap = np.abs(x[:, None] - x)
    # Means of blocks d apart: exp(-d / l) times (2 cosh(r) - 2) / r^2, r the blocks' width over l.
    between = np.exp(blocks - _BLOCKS * blocks * gap) * lost**2 / blocks**2
    np.fill_diagonal(between, block_variance)
    own = weight @ between @ weight
    square = x[:, None] ** 2 + x**2 - 2.0 * x[:, None] * x * np.cos(angles_rad)[:, None, None]
    distance = np.sqrt(np.maximum(square, 0.0))
    across = np.exp(-distance / correlation_length)
    # Where the lines meet, block means vary less than points do.
    shared = np.minimum(across, block_variance)
    slow = (1.0 - white_share) / block_variance
    covariance: Floats = slow * np.einsum("i,kij,j->k", weight, shared, weight)
    own_variance = float(slow * own + white_share * (weight @ weight))
    return np.asarray(covariance / own_variance)
