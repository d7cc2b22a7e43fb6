"""A trace against lines through its running medians, at one scale: what stands out, and by what."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.median import median

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# 1 / Phi^-1(3/4): median absolute deviation to standard deviation of normal noise.
MAD_TO_SD = 1.482602218505602
# Samples per median: what stands out must fill less than half of them.
WINDOW = 16
# The scatter may vary along the trace; it is taken over this many medians.
_NEIGHBOURS = 15
_CHUNK = 1 << 12


@dataclass(frozen=True, slots=True, eq=False)
class RunningLines:
    """Samples, each a mean of ``scale`` points, against lines through medians of 16 of them.

    Attributes
    ----------
    scale : int
        Points per sample.
    medians : ndarray, shape (rows + 2,)
        Medians of the rows of samples, continued by a straight line at either end [y].
    scatter : ndarray, shape (rows,)
        Robust standard deviation of a sample about the lines [y].
    spikes : list of (int, int)
        Starts and stops, in points, of what stands out.
    """

    scale: int
    medians: Floats
    scatter: Floats
    spikes: list[tuple[int, int]]

    def at(self, points: NDArray[np.intp]) -> Floats:
        """Height of the lines at some points, counted from the start of the trace [y]."""
        return _between(self.medians, (points + 0.5) / (WINDOW * self.scale))

    def scatter_at(self, point: int) -> float:
        """Robust standard deviation of a sample there [y]."""
        return float(self.scatter[min(point // (WINDOW * self.scale), self.scatter.size - 1)])


def running_lines(
    values: Floats, scale: int, *, threshold: float, least_scatter: float
) -> RunningLines:
    """Compare a trace with its running medians.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Heights with their large shape taken out [y]; three rows of samples at least.
    scale : int
        Points per sample.
    threshold : float
        Standard deviations that stand out; twice as many in the outermost half rows, which lie
        beyond the medians.
    least_scatter : float
        Scatter to reckon with in any case [y].
    """
    size = values.size // scale
    samples = values[: size * scale].reshape(size, scale).mean(axis=1) if scale > 1 else values
    rows = padded(samples, WINDOW).reshape(-1, WINDOW)
    count = len(rows)
    inner = np.concatenate([row_medians(rows[part]) for part in _chunks(count)])
    ends = [2.0 * inner[0] - inner[1]], [2.0 * inner[-1] - inner[-2]]
    medians = np.concatenate([ends[0], inner, ends[1]])
    local, largest = np.empty(count), np.empty(count)
    for part in _chunks(count):
        off = _off(rows, medians, np.arange(count)[part])
        local[part], largest[part] = row_medians(off), off.max(axis=1)
    local *= MAD_TO_SD
    scatter = np.maximum(_running_median(local), max(median(local), least_scatter))
    flags = np.zeros(rows.size, dtype=np.bool_)
    suspects = np.flatnonzero(largest > threshold * scatter)
    if suspects.size:
        limit = np.repeat(threshold * scatter[suspects, None], WINDOW, axis=1)
        half = WINDOW // 2
        limit[suspects == 0, :half] *= 2.0
        limit[suspects == count - 1, half:] *= 2.0
        flags.reshape(rows.shape)[suspects] = _off(rows, medians, suspects) > limit
    spikes = [(scale * start, scale * stop) for start, stop in runs(flags[:size])]
    return RunningLines(scale, medians, scatter, spikes)


def _off(rows: Floats, medians: Floats, which: NDArray[np.intp]) -> Floats:
    """Distances of the samples of some rows from the lines."""
    left, middle, right = (medians[which + i, None] for i in range(3))
    half = WINDOW // 2
    place = (np.arange(half) + 0.5) / WINDOW
    off = rows[which] - middle
    off[:, :half] -= (middle - left) * (place - 0.5)
    off[:, half:] -= (right - middle) * place
    return np.abs(off, out=off)


def _between(medians: Floats, place: Floats) -> Floats:
    """Lines through medians that lie at -0.5, 0.5, 1.5, ..."""
    left = np.clip((place + 0.5).astype(np.intp), 0, medians.size - 2)
    low = medians[left]
    height: Floats = low + (place + 0.5 - left) * (medians[left + 1] - low)
    return height


def runs(flags: Mask) -> list[tuple[int, int]]:
    """Starts and stops of runs of True."""
    edges = np.flatnonzero(flags[1:] != flags[:-1]) + 1
    bounds = [0, *edges.tolist(), flags.size]
    return list(itertools.pairwise(bounds))[0 if flags[0] else 1 :: 2]


def padded(values: Floats, multiple: int) -> Floats:
    """Mirror the last values until the length is a multiple."""
    short = -values.size % multiple
    return np.concatenate([values, values[-short - 1 : -1][::-1]]) if short else values


def row_medians(rows: Floats) -> Floats:
    """Median of each row; the upper one of an even number."""
    middle = rows.shape[1] // 2
    medians: Floats = np.partition(rows, middle, axis=1)[:, middle]
    return medians


def _running_median(values: Floats) -> Floats:
    """Median over the neighbours either side, mirrored at the ends."""
    reach = min(_NEIGHBOURS, values.size) // 2
    wide = np.concatenate([values[reach:0:-1], values, values[-2 : -reach - 2 : -1]])
    return row_medians(np.lib.stride_tricks.sliding_window_view(wide, 2 * reach + 1))


def _chunks(count: int) -> list[slice]:
    return [slice(start, start + _CHUNK) for start in range(0, count, _CHUNK)]
