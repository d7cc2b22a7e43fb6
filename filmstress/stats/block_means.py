"""Means over equal stretches of a trace: what carries the slow part, at a fiftieth of the size.

Only noise slower than the blocks moves a fitted parabola, so block means lose nothing that matters
to it, and they make short correlation, smoothing filters and other fine structure look white.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput, UsageError

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

MIN_POINTS = 10
# Points handled at once: temporaries stay small, and in the cache, whatever the trace's length.
_CHUNK = 1 << 16


@dataclass(frozen=True, slots=True, eq=False)
class BlockMeans:
    """A trace averaged over ``blocks`` stretches of equal length; empty ones are left out.

    Positions are in t = (x - centre) / half_length, so that the kept points span [-1, 1].

    Attributes
    ----------
    centre, half_length : float
        Of the kept points [x].
    blocks : int
        Number of stretches, empty ones included.
    index : ndarray of int, shape (m,)
        Which stretch each mean belongs to.
    count : ndarray, shape (m,)
        Kept points in it.
    t, t_variance : ndarray, shape (m,)
        Mean of t over the kept points, and variance of t about it.
    y : ndarray, shape (m,)
        Mean of y minus ``y_reference`` [y].
    y_reference : float
        One of the heights, taken out before summing to keep the digits [y].
    waves : ndarray, shape (2 k, m)
        Means of cos and sin of 2 pi f (x - centre), two rows for each wave frequency.
    """

    centre: float
    half_length: float
    blocks: int
    index: NDArray[np.intp]
    count: Floats
    t: Floats
    t_variance: Floats
    y: Floats
    y_reference: float
    waves: Floats

    @property
    def x(self) -> Floats:
        """Mean position of the kept points of each block [x]."""
        return self.centre + self.half_length * self.t

    @property
    def extent(self) -> float:
        """Length of the stretches together: half a point's cell more at either end [x]."""
        return 2.0 * self.half_length * self.points / (self.points - 1)

    @property
    def points(self) -> int:
        """Kept points in all."""
        return int(self.count.sum())


def block_means(
    x: Floats,
    y: Floats,
    *,
    keep: Mask | None = None,
    blocks: int = 50,
    frequencies: tuple[float, ...] = (),
) -> BlockMeans:
    """Average a trace over equal stretches, without temporaries of its own size.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Positions, strictly increasing.
    y : ndarray, shape (n,)
        Heights; those left out may be NaN.
    keep : ndarray of bool, shape (n,), optional
        True for the points to use.
    blocks : int
        Number of stretches; fewer where there are fewer points.
    frequencies : tuple of float
        Waves to average beside the heights [cycles per unit of x].

    Raises
    ------
    UsageError
        Shapes that differ.
    RefusedInput
        Fewer than 10 points, positions that do not increase, heights that are not finite.
    """
    _check_shapes(x, y, keep)
    points = x.size if keep is None else int(np.count_nonzero(keep))
    if points < MIN_POINTS:
        raise RefusedInput(
            f"{points} points are left; a parabola and its uncertainty need at least {MIN_POINTS}",
            hint="widen the window, or check why the other points were left out",
        )
    first, last = 0, x.size
    if keep is not None:
        first = int(keep.argmax())
        last = x.size - int(keep[::-1].argmax())
    low, high = float(x[first]), float(x[last - 1])
    centre, half_length = 0.5 * (low + high), 0.5 * (high - low)
    blocks = min(blocks, points)
    # Each point stands for a cell of its own width, so that even sampling fills blocks evenly.
    reach = half_length * points / (points - 1)
    inner = centre + reach * (2.0 * np.arange(1, blocks) / blocks - 1.0)
    edges = np.concatenate([[first], np.searchsorted(x[first:last], inner) + first, [last]])
    reference = float(y[first])
    sums, count = _block_sums(x, y, keep, edges, (centre, half_length, reference), frequencies)
    filled = np.flatnonzero(count)
    if filled.size < MIN_POINTS:
        raise RefusedInput(
            f"the points left fill {filled.size} of {blocks} equal parts of the trace; "
            f"at least {MIN_POINTS} are needed",
            hint="narrow the window to where the points are",
        )
    number = count[filled].astype(np.float64)
    means = sums[:, filled] / number
    if not np.isfinite(means).all():
        raise RefusedInput("positions and heights must be finite numbers", hint="mask the others")
    t, t2, height = means[:3]
    return BlockMeans(
        centre=centre,
        half_length=half_length,
        blocks=blocks,
        index=filled,
        count=number,
        t=t,
        t_variance=np.maximum(t2 - t * t, 0.0),
        y=height,
        y_reference=reference,
        waves=means[3:],
    )


def _check_shapes(x: Floats, y: Floats, keep: Mask | None) -> None:
    if x.ndim != 1 or x.shape != y.shape or (keep is not None and keep.shape != x.shape):
        shapes = [x.shape, y.shape] + ([] if keep is None else [keep.shape])
        raise UsageError(f"x, y and keep must be vectors of one length, got shapes {shapes}")
    if not (x[1:] > x[:-1]).all():
        raise RefusedInput("positions must increase from point to point", hint="sort the points")


def _block_sums(
    x: Floats,
    y: Floats,
    keep: Mask | None,
    edges: NDArray[np.intp],
    frame: tuple[float, float, float],
    frequencies: tuple[float, ...],
) -> tuple[Floats, NDArray[np.intp]]:
    """Sum t, t^2, y and the waves over each block, and count its kept points."""
    centre, half_length, reference = frame
    blocks = edges.size - 1
    sums = np.zeros((3 + 2 * len(frequencies), blocks))
    count = np.zeros(blocks, dtype=np.intp)
    for start in _chunks(edges):
        piece = slice(edges[start[0]], edges[start[-1] + 1])
        px, py = x[piece], y[piece]
        bounds = edges[start[0] : start[-1] + 2] - edges[start[0]]
        if keep is not None and not keep[piece].all():
            kept = keep[piece]
            px, py = px[kept], py[kept]
            bounds = np.concatenate([[0], np.cumsum(kept)])[bounds]
        number = np.diff(bounds)
        count[start] = number
        filled = start[number > 0]
        if filled.size == 0:
            continue
        starts = bounds[:-1][number > 0]
        t = (px - centre) / half_length
        sums[0, filled] = np.add.reduceat(t, starts)
        sums[1, filled] = np.add.reduceat(t * t, starts)
        sums[2, filled] = np.add.reduceat(py - reference, starts)
        for row, frequency in enumerate(frequencies):
            phase = (2.0 * math.pi * frequency * half_length) * t
            sums[3 + 2 * row, filled] = np.add.reduceat(np.cos(phase), starts)
            sums[4 + 2 * row, filled] = np.add.reduceat(np.sin(phase), starts)
    return sums, count


def _chunks(edges: NDArray[np.intp]) -> list[NDArray[np.intp]]:
    """Cut the blocks into runs that hold about a chunk of points, at least one block each."""
    group = edges[:-1] // _CHUNK
    return np.split(np.arange(edges.size - 1), np.flatnonzero(np.diff(group)) + 1)
