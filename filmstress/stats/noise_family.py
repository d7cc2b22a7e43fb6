"""The family of residual noises that a fit is averaged over: white plus exponentially correlated.

The covariance of block means is V = q W + (1 - q) C_l, with W the white part (inverse to the points
in a block) and C_l that of an Ornstein-Uhlenbeck process, exp(-|h| / l) (Uhlenbeck & Ornstein,
1930, doi 10.1103/PhysRev.36.823), averaged over the blocks and scaled to unit mean variance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Correlation lengths as parts of the trace, and white shares.  Steps twice as fine change the
# length of the interval by 1 %.
_LENGTHS = 0.01 * np.exp(0.5 * np.arange(14))
_WHITE_SHARES = np.concatenate([[0.0], 1.0 / (1.0 + np.exp(-np.arange(-6.5, 7.0))), [1.0]])
# Means over blocks whose counts differ by less than this factor are treated as of equal count.
# Measured with a third of the points missing in a fifth of the blocks: the curvature's spread and
# uncertainty change by 1 %, its coverage not.
EVEN_ENOUGH = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class NoiseFamily:
    """Members of the family, decomposed so that each white share costs only M operations.

    With R = ``rotation[i]`` and d = ``1 / weight[i, j]``, member (i, j) has R V R' = diag(d).

    Attributes
    ----------
    length : ndarray, shape (members,)
        Correlation length over the scan's length [1].
    white_share : ndarray, shape (members,)
        q [1].
    rotation : ndarray, shape (lengths, m, m)
        Rows are whitened eigenvectors.
    weight : ndarray, shape (lengths, shares, m)
        Inverse eigenvalues.
    log_det : ndarray, shape (members,)
        ln |V|.
    block_variance : ndarray, shape (members,)
        Variance of a block mean of the unit-variance process before C_l was scaled [1].
    """

    length: Floats
    white_share: Floats
    rotation: Floats
    weight: Floats
    log_det: Floats
    block_variance: Floats


def ou_block_covariance(blocks: int, length: float) -> Floats:
    """Covariance of block means of exp(-|h| / l): exact double integrals over the blocks.

    Parameters
    ----------
    blocks : int
        Number of equal blocks the unit interval is cut into.
    length : float
        Correlation length l over the interval [1].

    Returns
    -------
    ndarray, shape (blocks, blocks)
        With r = 1 / (blocks l): 2 (r - 1 + exp(-r)) / r^2 on the diagonal and
        ((1 - exp(-r)) / r)^2 exp(-(k - 1) r) k blocks away from it.
    """
    r = 1.0 / (blocks * length)
    lag = np.arange(blocks)
    row = (np.expm1(-r) / r) ** 2 * np.exp(-(lag - 1) * r)
    row[0] = 2.0 * (r + np.expm1(-r)) / r**2
    covariance: Floats = row[np.abs(lag[:, None] - lag)]
    return covariance


def noise_family(blocks: int, index: NDArray[np.intp], count: Floats) -> NoiseFamily:
    """Members of the family for block means over ``count`` points each.

    Parameters
    ----------
    blocks : int
        Number of equal stretches.
    index, count : ndarray, shape (m,)
        Which stretches are filled, and with how many points.
    """
    if index.size == blocks and count.max() <= EVEN_ENOUGH * count.min():
        return _even_family(blocks)
    return _decompose(blocks, index, count)


@lru_cache(maxsize=8)
def _even_family(blocks: int) -> NoiseFamily:
    return _decompose(blocks, np.arange(blocks), np.ones(blocks))


def _decompose(blocks: int, index: NDArray[np.intp], count: Floats) -> NoiseFamily:
    white = count.mean() / count
    raw = np.stack([ou_block_covariance(blocks, length) for length in _LENGTHS])
    # Stationary: every block has the same variance, which is therefore the mean eigenvalue.
    variance = raw[:, 0, 0]
    scaled = raw[:, index[:, None], index] / variance[:, None, None]
    whiten = 1.0 / np.sqrt(white)
    values, vectors = np.linalg.eigh(scaled * (whiten[:, None] * whiten))
    q = _WHITE_SHARES[:, None]
    eigenvalues = q + (1.0 - q) * np.maximum(values, 0.0)[:, None, :]
    return NoiseFamily(
        length=np.repeat(_LENGTHS, _WHITE_SHARES.size),
        white_share=np.tile(_WHITE_SHARES, _LENGTHS.size),
        rotation=np.swapaxes(vectors, 1, 2) * whiten,
        weight=1.0 / eigenvalues,
        log_det=np.log(eigenvalues).sum(axis=2).ravel() + np.log(white).sum(),
        block_variance=np.repeat(variance, _WHITE_SHARES.size),
    )
