"""Finds a narrow line in residuals: one wave that stands out of its spectral surroundings."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.stats.block_means import block_means
from filmstress.stats.waves import fit_waves

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

_BLOCKS = 1024
_MIN_POINTS = 128
# Fewer cycles over the trace than this cannot be told from drift.
_MIN_CYCLES = 5
# Power over its surroundings that is taken for a line.  The surroundings of slow lines are few and
# steep, so more is asked of them.  Below 1 % false alarms on every kind of noise tried (tests).
_THRESHOLD = 25.0
_THRESHOLD_SLOW = 40.0
_SLOW_CYCLES = 12
# The window spreads a line over two bins either side; 16 bins beyond them are its surroundings.
_LOBE = 2
_WINDOW = 16


@dataclass(frozen=True, slots=True)
class SpectralLine:
    """A narrow line.

    Attributes
    ----------
    frequency : float
        [cycles per unit of x]
    amplitude : float
        Half the height from trough to crest [y].
    ratio : float
        Spectral power over the median around it [1].
    """

    frequency: float
    amplitude: float
    ratio: float


def find_line(
    x: ArrayLike, residual: ArrayLike, *, keep: Mask | None = None
) -> SpectralLine | None:
    """Find the strongest narrow line in residuals.

    Parameters
    ----------
    x : array_like, shape (n,)
        Positions, strictly increasing [x].
    residual : array_like, shape (n,)
        Heights with the fitted parabola taken out [y].
    keep : ndarray of bool, shape (n,), optional
        True for the points to use.

    Returns
    -------
    SpectralLine or None
        None where nothing stands out, or below 128 points.

    Notes
    -----
    Periodogram of up to 1024 block means under a Hann window (Harris 1978,
    doi 10.1109/PROC.1978.10837).  A bin is compared with the higher of the medians of the bins
    below and above it, so that the slope of drift's spectrum is not taken for a line.  Valid from
    5 cycles per trace to just below half the rate of the block means.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(residual, dtype=np.float64)
    points = x.size if keep is None else int(np.count_nonzero(keep))
    if points < _MIN_POINTS:
        return None
    # As many points to each block: blocks of now one, now two points would blur a fast line.
    means = block_means(x, y, keep=keep, blocks=points // math.ceil(points / _BLOCKS))
    size = means.blocks
    series = means.y
    if means.index.size < size:
        series = np.interp(np.arange(size), means.index, series)
    place, root, parabolas = _taper(size)
    # A parabola fitted under the window itself is the one that a line disturbs least.
    rooted = root * series
    tapered = root * (rooted - parabolas @ (parabolas.T @ rooted))
    power = np.abs(np.fft.rfft(tapered)) ** 2
    ratio = _over_surroundings(power)
    limit = np.full(ratio.size, _THRESHOLD)
    limit[:_SLOW_CYCLES] = _THRESHOLD_SLOW
    peak = int((ratio / limit).argmax())
    if ratio[peak] < limit[peak]:
        return None
    frequency = _refine(tapered, place, peak) / means.extent
    wave = fit_waves(x, y, (frequency,), centre=means.centre, keep=keep)[0]
    return SpectralLine(frequency, wave.amplitude, float(ratio[peak]))


@lru_cache(maxsize=4)
def _taper(size: int) -> tuple[Floats, Floats, Floats]:
    """Places of the block means, root of the Hann window, orthonormal parabolas under it."""
    place = (np.arange(size) + 0.5) / size
    root = np.sin(np.pi * place)
    powers = (2.0 * place - 1.0) ** np.arange(3)[:, None]
    return place, root, np.linalg.qr((root * powers).T)[0]


def _over_surroundings(power: Floats) -> Floats:
    """Power of each bin over that around it; 0 where there are no surroundings."""
    gap = _LOBE + 1
    # Rounding noise of a perfect fit must not pass for surroundings.
    floor = 1e-12 * float(power.max()) + np.finfo(np.float64).tiny
    ratio = np.zeros(power.size)
    windows = np.lib.stride_tricks.sliding_window_view(power[1:], _WINDOW)
    medians = np.partition(windows, _WINDOW // 2, axis=1)[:, _WINDOW // 2]
    first = gap + _WINDOW
    stop = power.size - first
    above, below = medians[gap + first - 1 : gap + stop - 1], medians[: stop - first]
    ratio[first:stop] = power[first:stop] / np.maximum(np.maximum(above, below), floor)
    for k in range(_MIN_CYCLES, first):
        span = min(_WINDOW, k)
        upper = _middle(power[k + gap : k + gap + span])
        near = power[max(1, k - _LOBE - span) : k - _LOBE]
        lower = _middle(near) if near.size >= 6 else near.max()
        ratio[k] = power[k] / max(upper, lower, floor)
    return ratio


def _middle(values: Floats) -> float:
    """Upper median: numpy's own costs ten times as much on a handful of values."""
    ordered: list[float] = sorted(values.tolist())
    return ordered[len(ordered) // 2]


def _refine(tapered: Floats, place: Floats, peak: int) -> float:
    """Cycles per trace at the top of the spectrum near a bin, by parabolas of shrinking step."""
    cycles, step = float(peak), 0.5
    for _ in range(4):
        trial = cycles + step * np.array([-1.0, 0.0, 1.0])
        left, top, right = np.abs(np.exp(-2j * np.pi * np.outer(trial, place)) @ tapered)
        bend = left - 2.0 * top + right
        if bend < 0.0:
            cycles += step * float(np.clip(0.5 * (left - right) / bend, -1.0, 1.0))
        step *= 0.2
    return cycles
