"""Finds the edges of steps in a scan: where the mean height jumps from one stretch to the next.

The scan is thinned to medians over short blocks, and these pass a running median, which leaves
edges as they are and takes away whatever is narrower than half of it.  The difference of the means
to the right and to the left of every place is compared with its own scatter, over stretches from
short to long; the tilt and bow of the whole scan show as a line in it and are taken out.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.median import median
from filmstress.stats.running_lines import MAD_TO_SD

Floats = NDArray[np.float64]

_BLOCKS = 400
_ROUNDS = 8
# A jump stands out from the scatter of all places by this; the evaluation judges it again.
_STANDS_OUT = 7.0
# Edges of one film are about equally high: what is below this part of the highest is none of it.
_ALIKE = 0.5
_LONGEST_PART = 6
MOST_EDGES = 100


@dataclass(frozen=True, slots=True)
class Edge:
    """Place of an edge [m], and by how much the height jumps there, to the right [m]."""

    x: float
    jump: float


def find_edges(x: Floats, z: Floats, *, narrowest: float) -> tuple[Edge, ...]:
    """Edges of steps, from left to right.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
        Positions, increasing, and heights [m].
    narrowest : float
        What is narrower than this share of the scan is dust, and no step.

    Returns
    -------
    tuple of Edge
        Empty where nothing stands out.  What was found may still be noise that wanders: only the
        uncertainty of a step's height tells.
    """
    at, height, start = _blocks(x, z)
    slope = median(np.diff(height) / np.diff(at))
    narrow = round(narrowest * at.size)
    height = _without_narrow(height - slope * (at - at[0]), narrow)
    # What passed a median moves in plateaus as long as half its window.
    span = max(2, narrow)
    longest = max(span, at.size // _LONGEST_PART)
    best: list[tuple[int, float]] = []
    best_score, best_span = 0.0, span
    best_trend = np.zeros(1)
    while span <= longest:
        jumps = _jumps(height, span)
        trend = _robust_line(jumps)
        jumps -= trend
        scatter = MAD_TO_SD * median(np.abs(jumps))
        rounding = 64.0 * np.finfo(np.float64).eps * float(np.abs(height).max())
        score = float(np.abs(jumps).max()) / max(scatter, rounding, 1e-300)
        # Longer stretches see less noise, and blur edges that lie close: only if they see better.
        if score > 1.5 * best_score:
            best_score, best_span = score, span
            best, best_trend = _peaks(jumps, span), trend / span
        span = max(span + 1, round(1.5 * span))
    if best_score < _STANDS_OUT or not best:
        return ()
    per_x = (at.size - 1) / float(at[-1] - at[0])
    slopes = [slope + per_x * float(best_trend[block - best_span]) for block, _ in best]
    return _placed(x, z, start, best, slopes, best_span)


def split(x: Floats, z: Floats) -> float:
    """Place where a stretch of heights falls apart into two levels best [m].

    Of a flank that is not upright it is about the middle.
    """
    n = z.size
    left = np.cumsum(z)[:-1]
    count = np.arange(1, n)
    total = float(z.sum())
    between = (left - total * count / n) ** 2 / (count * (n - count))
    cut = int(between.argmax())
    return 0.5 * float(x[cut] + x[cut + 1])


def _blocks(x: Floats, z: Floats) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Medians over stretches of about equal numbers of points, and where each begins."""
    blocks = min(_BLOCKS, x.size)
    start = (np.arange(blocks + 1) * x.size) // blocks
    pairs = list(itertools.pairwise(start))
    height = np.array([median(z[i:j]) for i, j in pairs])
    at = np.array([float(x[i:j].mean()) for i, j in pairs])
    return at, height - median(height), start


def _without_narrow(height: Floats, most: int) -> Floats:
    """Running median over twice ``most`` heights and one."""
    if most < 1:
        return height
    windows = np.lib.stride_tricks.sliding_window_view(
        np.pad(height, most, mode="reflect", reflect_type="odd"), 2 * most + 1
    )
    middle: Floats = np.partition(windows, most, axis=1)[:, most]
    return middle


def _jumps(height: Floats, span: int) -> Floats:
    """Mean of ``span`` heights from each place on, less that of those before it."""
    total = np.concatenate([[0.0], np.cumsum(height)])
    mean = (total[span:] - total[:-span]) / span
    jumps: Floats = mean[span:] - mean[:-span]
    return jumps


def _robust_line(values: Floats) -> Floats:
    """Line of least absolute deviations: jumps are few, tilt and bow are everywhere."""
    t = np.linspace(-1.0, 1.0, values.size)
    rows = np.stack([np.ones_like(t), t], axis=1)
    line = np.full(values.size, median(values))
    if values.size < 12:
        return line
    for _ in range(_ROUNDS):
        off = np.abs(values - line)
        weight = 1.0 / np.sqrt(off + 1e-3 * median(off) + np.finfo(np.float64).tiny)
        found = np.linalg.lstsq(rows * weight[:, None], values * weight, rcond=None)[0]
        line = rows @ found
    return line


def _peaks(jumps: Floats, span: int) -> list[tuple[int, float]]:
    """Highest places first, none within a span of another: block and jump."""
    size = np.abs(jumps)
    least = _ALIKE * float(size.max())
    found: list[tuple[int, float]] = []
    free = np.ones(size.size, dtype=np.bool_)
    for place in np.argsort(-size, kind="stable"):
        if size[place] < least or len(found) >= MOST_EDGES:
            break
        if free[place]:
            found.append((int(place) + span, float(jumps[place])))
            free[max(place - span, 0) : place + span + 1] = False
    return sorted(found)


def _placed(
    x: Floats,
    z: Floats,
    start: NDArray[np.intp],
    found: list[tuple[int, float]],
    slopes: list[float],
    span: int,
) -> tuple[Edge, ...]:
    """Edges to the point: between the neighbours of a block, where the heights fall apart best."""
    edges = []
    blocks = [block for block, _ in found]
    for number, (block, jump) in enumerate(found):
        before = blocks[number - 1] if number else -math.inf
        after = blocks[number + 1] if number + 1 < len(found) else math.inf
        low = int(max(block - span, math.ceil(0.5 * (before + block)) if number else 0, 0))
        high = int(min(block + span, 0.5 * (block + after), start.size - 1))
        part = slice(start[low], start[high])
        if start[high] - start[low] >= 2:
            edges.append(Edge(split(x[part], z[part] - slopes[number] * x[part]), jump))
    return tuple(edges)
