"""What an instrument adds to the true heights: noise, drift, dust, wild points, rounding."""

from __future__ import annotations

import math
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def white(rng: np.random.Generator, points: int, *, sd_m: float) -> FloatArray:
    """Draw independent normal noise [m]."""
    return sd_m * rng.standard_normal(points)


def ornstein_uhlenbeck(
    rng: np.random.Generator, points: int, *, sd_m: float, length_m: float, spacing_m: float
) -> FloatArray:
    """Draw stationary noise with covariance sd^2 exp(-d/l) [m] at evenly spaced points.

    Exact at any spacing (G. E. Uhlenbeck & L. S. Ornstein, Phys. Rev. 36 (1930) 823,
    DOI 10.1103/PhysRev.36.823).
    """
    memory = math.exp(-spacing_m / length_m)
    shocks = rng.standard_normal(points)
    shocks[1:] *= math.sqrt(-math.expm1(-2.0 * spacing_m / length_m))
    path = accumulate(shocks.tolist(), lambda last, shock: memory * last + shock)
    return sd_m * np.fromiter(path, np.float64, points)


def random_walk(rng: np.random.Generator, points: int, *, sd_m: float) -> FloatArray:
    """Draw a random walk from zero [m] whose last point has standard deviation ``sd_m``."""
    steps = rng.standard_normal(points)
    steps[0] = 0.0
    walk: FloatArray = np.cumsum(steps) * (sd_m / math.sqrt(points - 1))
    return walk


def dust(
    rng: np.random.Generator, x: FloatArray, *, count: int, height_m: float, width_m: float
) -> FloatArray:
    """Draw the heights of ``count`` particles on the line [m]: raised cosines, evenly spread."""
    added = np.zeros(x.size)
    centres = rng.uniform(x[0], x[-1], count)
    heights = height_m * rng.uniform(0.3, 1.0, count)
    widths = width_m * rng.uniform(0.5, 1.5, count)
    # On a point, for a particle narrower than the spacing would slip between two.
    centres = x[np.minimum(np.searchsorted(x, centres), x.size - 1)]
    for centre, height, width in zip(centres, heights, widths, strict=True):
        near = np.abs(x - centre) < 0.5 * width
        added[near] += 0.5 * height * (1.0 + np.cos(2.0 * math.pi * (x[near] - centre) / width))
    return added


def spoil(
    rng: np.random.Generator,
    z: FloatArray,
    *,
    wild_count: int,
    wild_height_m: float,
    blank_count: int,
) -> FloatArray:
    """Return the heights with some points wrong by plus or minus a height, others NaN [m]."""
    spoilt = z.copy()
    signs = np.where(rng.random(z.size) < 0.5, -1.0, 1.0)[:wild_count]
    places = np.argsort(rng.random(z.size), kind="stable")
    spoilt[places[:wild_count]] += wild_height_m * signs
    spoilt[places[wild_count : wild_count + blank_count]] = math.nan
    return spoilt
