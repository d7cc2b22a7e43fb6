"""Draws synthetic residuals of a fitted noise model, for trying a fit on its own kind of noise."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.stats.block_means import BlockMeans
from filmstress.stats.quadratic_fit import NoiseModel, QuadraticFit

Floats = NDArray[np.float64]

# Longest stretch, in correlation lengths, over which exp(+t) stays well inside double precision.
_MAX_EXPONENT = 200.0


@dataclass(frozen=True, slots=True)
class BlockNoise:
    """A member of the noise family as block means show it.

    Attributes
    ----------
    white_variance : float
        Of a block mean [y^2].
    slow_variance, slow_block_variance : float
        Variance of the correlated process and of its block means [y^2].
    length : float
        Its correlation length over the trace's length [1].
    """

    white_variance: float
    slow_variance: float
    slow_block_variance: float
    length: float


NO_NOISE = BlockNoise(0.0, 0.0, 0.0, 0.0)


def point_noise(blocks: BlockMeans, member: BlockNoise, within: float) -> NoiseModel:
    """Noise of single points that has the block means of ``member``.

    Parameters
    ----------
    blocks : BlockMeans
        The averaged trace.
    member : BlockNoise
        What its residual means were found to be.
    within : float
        Mean square of the residuals about their block means [y^2].
    """
    length = blocks.extent
    count = float(blocks.count.mean())
    white = member.white_variance
    fast = max(within - (member.slow_variance - member.slow_block_variance), 0.0) + white
    # Block means vary by ``white``; were single points independent, by ``fast`` / count.
    independent = white * count <= 1.5 * fast
    width = length / blocks.blocks
    return NoiseModel(
        slow_sd=math.sqrt(member.slow_variance),
        slow_length=member.length * length,
        fast_sd=math.sqrt(fast),
        fast_length=0.0 if independent else width / _blocks_per_length(white / fast),
    )


def _blocks_per_length(ratio: float) -> float:
    """Solve 2 (r - 1 + exp(-r)) / r^2 = ratio for r, the block's width in correlation lengths."""
    low, high = 1e-6, 2.0 / ratio
    for _ in range(60):
        r = math.sqrt(low * high)
        if 2.0 * (r + math.expm1(-r)) / (r * r) > ratio:
            low = r
        else:
            high = r
    return math.sqrt(low * high)


def draw_noise(fit: QuadraticFit, x: ArrayLike, rng: np.random.Generator) -> Floats:
    """Draw residuals of the noise that ``fit`` found.

    Parameters
    ----------
    fit : QuadraticFit
        Its ``noise`` is drawn.
    x : array_like, shape (n,)
        Increasing positions [x].
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    ndarray, shape (n,)
        [y]
    """
    at = np.asarray(x, dtype=np.float64)
    noise = fit.noise
    return draw_correlated(at, noise.slow_sd, noise.slow_length, rng) + draw_correlated(
        at, noise.fast_sd, noise.fast_length, rng
    )


def draw_correlated(x: Floats, sd: float, length: float, rng: np.random.Generator) -> Floats:
    """Draw noise of covariance sd^2 exp(-|h| / length) at any increasing positions; O(n).

    Parameters
    ----------
    x : ndarray, shape (n,)
        Positions [x].
    sd, length : float
        Standard deviation [y] and correlation length [x]; length 0 is white.
    rng : numpy.random.Generator
        Source of randomness.
    """
    fresh = rng.standard_normal(x.size)
    if length == 0.0 or sd == 0.0 or x.size < 2:
        return sd * fresh
    steps = np.minimum(np.diff(x) / length, _MAX_EXPONENT)
    fresh[1:] *= np.sqrt(-np.expm1(-2.0 * steps))
    along = np.concatenate([[0.0], np.cumsum(steps)])
    noise = np.empty_like(fresh)
    carried, start = 0.0, 0
    # e[k] = exp(-step) e[k-1] + fresh[k], summed in stretches where exp(+t) cannot overflow.
    while start < x.size:
        stop = int(np.searchsorted(along, along[start] + _MAX_EXPONENT, side="right"))
        before = along[start - 1] if start else 0.0
        growth = np.exp(along[start:stop] - before)
        noise[start:stop] = (carried + np.cumsum(fresh[start:stop] * growth)) / growth
        carried, start = noise[stop - 1], stop
    return sd * noise
