"""The plain least-squares parabola beside the one fitted under correlated noise.

Where a trace is not a parabola, what remains is shape and not noise; weighting it as noise would
make the curvature depend on a model that does not hold.  The plain parabola then has a meaning of
its own: the least-squares one over the points used.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.block_means import BlockMeans
from filmstress.stats.noise import parabola_rows
from filmstress.stats.quadratic_fit import NoiseModel, Parabola, QuadraticFit

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_CHUNK = 1 << 16


def with_plain_parabola(
    fit: QuadraticFit, x: Floats, y: Floats, *, keep: Mask | None = None
) -> QuadraticFit:
    """The fit with its parabola replaced by the plain least-squares one.

    Parameters
    ----------
    fit : QuadraticFit
        Fitted to the same points under correlated noise.
    x, y : ndarray, shape (n,)
        The points [x, y].
    keep : ndarray of bool, shape (n,), optional
        True for the points to use.

    Returns
    -------
    QuadraticFit
        Same noise, same degrees of freedom; ``u`` and ``covariance`` grow by as much as the
        plain parabola is less efficient under that noise.
    """
    blocks = fit.blocks
    normal, moment = np.zeros((3, 3)), np.zeros(3)
    for start in range(0, x.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        at, height = x[part], y[part]
        if keep is not None:
            at, height = at[keep[part]], height[keep[part]]
        t = (at - blocks.centre) / blocks.half_length
        rows = np.stack([np.ones_like(t), t, 1.5 * t * t - 0.5])
        rest = height - blocks.y_reference
        for wave in fit.waves:
            rest = rest - wave.height(at)
        normal += rows @ rows.T
        moment += rows @ rest
    constant, linear, second = (float(c) for c in np.linalg.solve(normal, moment))
    h = blocks.half_length
    parabola = Parabola(
        centre=blocks.centre,
        offset=blocks.y_reference + constant - 0.5 * second,
        tilt=linear / h,
        curvature=3.0 * second / h**2,
    )
    factor = _inefficiency(blocks, fit.noise)
    moved = fit.parabola.height(blocks.x) - parabola.height(blocks.x)
    # Within a block the parabolas differ by their curvatures too.
    moved += 0.5 * (fit.curvature - parabola.curvature) * h**2 * blocks.t_variance
    return replace(
        fit,
        parabola=parabola,
        u=fit.u * factor,
        covariance=fit.covariance * factor**2,
        block_residual=fit.block_residual + moved,
    )


def _inefficiency(blocks: BlockMeans, noise: NoiseModel) -> float:
    """Standard deviation of the plain curvature over that of the weighted one, under a noise."""
    if noise.slow_sd == 0.0 or noise.slow_length == 0.0:
        return 1.0
    x = blocks.x
    covariance = noise.slow_sd**2 * np.exp(-np.abs(x[:, None] - x) / noise.slow_length)
    # Points that are correlated over a fast length stand for as many fewer.
    step = blocks.extent / blocks.points
    alike = max(1.0, 2.0 * noise.fast_length / step)
    covariance[np.diag_indices_from(covariance)] += noise.fast_sd**2 * alike / blocks.count
    rows = parabola_rows(blocks)
    plain = np.linalg.solve((rows * blocks.count) @ rows.T, rows * blocks.count)[2]
    weighted = np.linalg.inv(rows @ np.linalg.solve(covariance, rows.T))[2, 2]
    return float(np.sqrt(max(plain @ covariance @ plain / weighted, 1.0)))
