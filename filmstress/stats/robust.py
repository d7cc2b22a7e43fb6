"""Finds what does not belong to a trace: wild points and narrow bumps, with their skirts.

At every scale, from single points up, the trace is compared with a line through running medians.
What stands out from it by six times the robust scatter of that scale is masked.  Shape and noise
are part of that scatter, so waviness and correlated noise are left alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# 1 / Phi^-1(3/4): median absolute deviation to standard deviation of normal noise.
MAD_TO_SD = 1.482602218505602
# In standard deviations of the scale looked at.  Normal noise passes it once in 10^4 traces of
# 20,000 points; the rest is room for scatter that is not quite normal.
THRESHOLD = 6.0
# Samples per median: a bump must fill less than half of them to stand out.
_WINDOW = 16
_COARSER = 4
_MIN_POINTS = 2 * _WINDOW
# The scatter may vary along the trace; it is taken over this many medians.
_NEIGHBOURS = 15
_SHAPE_BLOCKS = 50
_SINGLE = 2


@dataclass(frozen=True, slots=True, eq=False)
class Spikes:
    """What was masked.

    Attributes
    ----------
    keep : ndarray of bool, shape (n,)
        False for masked points, and for those that were masked on entry.
    dropouts : int
        Wild points: masked cores of one or two points.
    particles : int
        Wider bumps.
    masked : int
        Points masked here.
    share : float
        Of the points that came in unmasked [1].
    share_down : float
        Share of the particles that point down [1]; 0 without particles.
    """

    keep: Mask
    dropouts: int
    particles: int
    masked: int
    share: float
    share_down: float


def find_spikes(
    x: ArrayLike, y: ArrayLike, *, keep: Mask | None = None, widest: float | None = None
) -> Spikes:
    """Mask wild points and bumps narrower than ``widest``.

    Parameters
    ----------
    x : array_like, shape (n,)
        Positions, strictly increasing, about evenly spaced [x].
    y : array_like, shape (n,)
        Heights [y]; those masked may be NaN.
    keep : ndarray of bool, shape (n,), optional
        True for the points to look at.
    widest : float, optional
        Widest bump to look for [x]; a fortieth of the trace unless stated.  Anything wider is
        shape.

    Returns
    -------
    Spikes

    Raises
    ------
    UsageError
        Shapes that differ.
    RefusedInput
        Heights that are not finite.

    Notes
    -----
    A running form of the identifier of Hampel (1974), doi 10.1080/01621459.1974.10482962, on
    means over 1, 4, 16, ... points; the cost is linear in n.  Below 32 points nothing is masked.
    What reaches the end of the trace and is wider than two points is left: it is an edge's
    roll-off as likely as a bump.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if x.ndim != 1 or x.shape != y.shape or (keep is not None and keep.shape != x.shape):
        raise UsageError("x, y and keep must be vectors of one length")
    every = np.ones(x.size, dtype=np.bool_) if keep is None else keep
    px, py = (x, y) if keep is None or keep.all() else (x[keep], y[keep])
    if not np.isfinite(py).all():
        raise RefusedInput("heights must be finite numbers", hint="mask the others")
    if px.size < _MIN_POINTS:
        return Spikes(every.copy(), 0, 0, 0, 0.0, 0.0)
    reach = (px[-1] - px[0]) / 40.0 if widest is None else widest
    longest = max(1.0, reach / (px[-1] - px[0]) * px.size)
    bumps = _find_bumps(_without_parabola(px, py), longest)
    spiked, particles, dropouts, down = _mask(bumps, px.size)
    result = every.copy()
    result[every] = ~spiked
    masked = int(np.count_nonzero(spiked))
    return Spikes(
        keep=result,
        dropouts=dropouts,
        particles=particles,
        masked=masked,
        share=masked / px.size,
        share_down=down / particles if particles else 0.0,
    )


@dataclass(frozen=True, slots=True)
class _Bump:
    """Points start to stop stand out; ``area`` is the sum of their residuals [y]."""

    start: int
    stop: int
    area: float


def _without_parabola(x: Floats, y: Floats) -> Floats:
    """Heights minus a parabola through medians, so that running lines fit up to the ends."""
    t = (x - x[0]) * (2.0 / (x[-1] - x[0])) - 1.0
    size = x.size // max(x.size // _SHAPE_BLOCKS, 1)
    count = x.size // size * size
    stride = count // size
    middle = stride // 2
    heights = np.partition(y[:count].reshape(size, stride), middle, axis=1)[:, middle]
    places = t[middle:count:stride]
    a, b, c = np.linalg.lstsq(np.vander(places, 3), heights, rcond=None)[0]
    rest: Floats = y - (c + t * (b + a * t))
    return rest


def _find_bumps(values: Floats, longest: float) -> list[_Bump]:
    bumps: list[_Bump] = []
    scale = 1
    while True:
        residual, baseline, limit = _against_medians(values)
        flagged = np.abs(residual) > limit
        if flagged.any():
            for start, stop in _runs(flagged):
                at_end = start == 0 or stop == values.size
                if at_end and (stop - start) * scale > _SINGLE:
                    continue
                area = scale * float(residual[start:stop].sum())
                bumps.append(_Bump(start * scale, stop * scale, area))
                # A coarser look must not see it again.
                values[start:stop] = baseline[start:stop]
        if _WINDOW * scale >= 2.0 * longest or values.size < _COARSER * _MIN_POINTS:
            return bumps
        values = _padded(values, _COARSER).reshape(-1, _COARSER).mean(axis=1)
        scale *= _COARSER


def _against_medians(values: Floats) -> tuple[Floats, Floats, Floats]:
    """Residuals from lines through running medians, those lines, and what is too much."""
    rows = _padded(values, _WINDOW).reshape(-1, _WINDOW)
    half = _WINDOW // 2
    medians = _row_medians(rows)
    step = np.diff(medians)
    before = np.concatenate([step[:1], step])[:, None]
    after = np.concatenate([step, step[-1:]])[:, None]
    place = (np.arange(half) + 0.5) / _WINDOW
    lines = np.concatenate([before * (place - 0.5), after * place], axis=1) + medians[:, None]
    residual = rows - lines
    scatter = MAD_TO_SD * _row_medians(np.abs(residual))
    local = np.maximum(_running_median(scatter), float(np.median(scatter)))
    # Half of all residuals may be exactly zero where heights are coarsely digitised.
    size = np.abs(values).max()
    smallest = 4.0 * np.finfo(np.float64).eps * float(size)
    limit = np.repeat(THRESHOLD * np.maximum(local, smallest), _WINDOW)
    n = values.size
    return residual.ravel()[:n], lines.ravel()[:n], limit[:n]
