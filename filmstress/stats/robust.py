"""Finds what does not belong to a trace: wild points and narrow bumps, with their skirts.

At every scale, from single points up, the trace is compared with a line through running medians.
What stands out from it by six times the robust scatter of that scale is masked.  Shape and noise
are part of that scatter, so waviness and correlated noise are left alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.median import median
from filmstress.stats.running_lines import (
    MAD_TO_SD,
    WINDOW,
    RunningLines,
    row_medians,
    running_lines,
    runs,
)

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# In standard deviations of the scale looked at.  Normal noise passes it once in 10^4 traces of
# 20,000 points; the rest is room for scatter that is not quite normal.
THRESHOLD = 6.0
_COARSER = 4
_MIN_POINTS = 3 * WINDOW
_SHAPE_BLOCKS = 50
_SHAPE_ORDER = 4
_SHAPE_ROUNDS = 5
_SINGLE = 2
_CHUNK = 1 << 16
# A bump is wide at its foot, and bumps may lie side by side: in units of the widest.
_MAX_CORE = 4.0
_MAX_CORE_AT_END = 2.0


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
    means over 1, 4, 16, ... points; the cost is linear in n.  Below 48 points nothing is masked.
    What stands out over more than four times ``widest`` is left: it is shape, not a bump.
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
    bumps = _find_bumps(_without_shape(px, py), longest, least_scatter=0.5 * _digit(py))
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
    """Points start to stop are masked; ``core`` of them stand out, by ``area`` in sum [y]."""

    start: int
    stop: int
    core: int
    area: float


def _without_shape(x: Floats, y: Floats) -> Floats:
    """Heights minus a polynomial through medians: the shape of the whole trace."""
    low, per_x = x[0], 2.0 / (x[-1] - x[0])
    size = x.size // max(x.size // _SHAPE_BLOCKS, 1)
    stride = x.size // size
    rows = y[: size * stride].reshape(size, stride)
    step = max(1, _CHUNK // stride)
    heights = np.concatenate([row_medians(rows[i : i + step]) for i in range(0, size, step)])
    places = (x[stride // 2 : size * stride : stride] - low) * per_x - 1.0
    powers = np.vander(places, min(_SHAPE_ORDER, size // 3) + 1)
    coefficients = np.linalg.lstsq(powers, heights, rcond=None)[0]
    for _ in range(_SHAPE_ROUNDS):
        # Least absolute deviations by re-weighting: medians within wide bumps must not steer it.
        off = np.abs(heights - powers @ coefficients)
        weight = 1.0 / np.sqrt(off + 1e-3 * median(off) + np.finfo(np.float64).tiny)
        coefficients = np.linalg.lstsq(powers * weight[:, None], heights * weight, rcond=None)[0]
    rest = np.empty_like(y)
    for part in _pieces(x.size):
        rest[part] = y[part] - np.polyval(coefficients, (x[part] - low) * per_x - 1.0)
    return rest


def _digit(y: Floats) -> float:
    """Smallest step between neighbours: the last digit of coarsely digitised heights [y].

    Where most heights repeat one digit, the scatter vanishes and the next digit would be a spike.
    """
    rounding = 64.0 * np.finfo(np.float64).eps * max(float(y.max()), -float(y.min()))
    least = math.inf
    for part in _pieces(y.size - 1):
        steps = np.abs(y[part.start + 1 : part.stop + 1] - y[part])
        least = min(least, float(steps[steps > rounding].min(initial=math.inf)))
    return least if math.isfinite(least) else 0.0


def _pieces(points: int) -> list[slice]:
    return [slice(i, min(i + _CHUNK, points)) for i in range(0, points, _CHUNK)]


def _find_bumps(values: Floats, longest: float, *, least_scatter: float) -> list[_Bump]:
    """Look coarse first: only windows much wider than a bump show all of it.

    ``values`` is changed: bumps that were found are bridged, so that a finer look passes over them.
    """
    bumps: list[_Bump] = []
    point_scatter = _point_scatter(values)
    for scale in _scales(values.size, longest):
        lines = running_lines(values, scale, threshold=THRESHOLD, least_scatter=least_scatter)
        for start, stop in lines.spikes:
            bump = _narrow_down(values, lines, start, stop, point_scatter=point_scatter)
            # At an end the trace is seen on one side only, and a roll-off looks like a bump.
            at_end = bump.start == 0 or bump.stop == values.size
            most = (_MAX_CORE_AT_END if at_end else _MAX_CORE) * longest
            if bump.core <= max(_SINGLE, most):
                _bridge(values, bump)
                bumps.append(bump)
    return bumps


def _point_scatter(values: Floats) -> float:
    """Standard deviation from point to point, from the differences of some neighbours."""
    some = np.arange(0, values.size - 1, max(1, values.size // 2048))
    return MAD_TO_SD / math.sqrt(2.0) * median(np.abs(values[some + 1] - values[some]))


def _scales(points: int, longest: float) -> list[int]:
    """Points per sample, coarse to fine, by factors of up to four; the last is 1."""
    top = min(0.25 * longest, points / (4.0 * WINDOW))
    if top <= 1.0:
        return [1]
    steps = math.ceil(math.log(top) / math.log(_COARSER))
    return sorted({round(top ** (i / steps)) for i in range(steps + 1)}, reverse=True)


def _narrow_down(
    values: Floats, lines: RunningLines, start: int, stop: int, *, point_scatter: float
) -> _Bump:
    """Fit the mask to the bump: out to where finer means come back to the line."""
    reach = 3 * (stop - start)
    low, high = max(start - reach, 0), min(stop + reach, values.size)
    rest = values[low:high] - lines.at(np.arange(low, high))
    scatter = lines.scatter_at(start)
    first, last = start - low, stop - low
    for _ in range(2):
        width = last - first
        fine = max(1, width // 16)
        size = np.abs(_moving_mean(rest, fine))
        tolerance = 3.0 * math.hypot(scatter, point_scatter / math.sqrt(fine))
        if size[first:last].max() < 2.0 * tolerance:
            # Too faint to see its skirts: they reach about as far again as what stands out.
            margin = width
            break
        touching = [run for run in runs(size > tolerance) if run[1] > first and run[0] < last]
        first, last = touching[0][0], touching[-1][1]
        margin = max(1, fine, (last - first) // 8)
    return _Bump(
        start=max(first + low - margin, 0),
        stop=min(last + low + margin, values.size),
        core=last - first,
        area=float(rest[first:last].sum()),
    )


def _moving_mean(values: Floats, span: int) -> Floats:
    if span == 1:
        return values
    means: Floats = np.convolve(values, np.full(span, 1.0 / span), mode="same")
    return means


def _bridge(values: Floats, bump: _Bump) -> None:
    """Replace a bump by a line between the means of what lies either side."""
    side = min(WINDOW, bump.stop - bump.start)
    left, right = values[max(bump.start - side, 0) : bump.start], values[bump.stop :][:side]
    ends = [float(part.mean()) for part in (left, right) if part.size]
    width = bump.stop - bump.start
    values[bump.start : bump.stop] = np.linspace(ends[0], ends[-1], width + 2)[1:-1]


def _mask(bumps: list[_Bump], points: int) -> tuple[Mask, int, int, int]:
    """Mask the bumps; count particles, dropouts, and particles that point down."""
    spiked = np.zeros(points, dtype=np.bool_)
    for bump in bumps:
        spiked[bump.start : bump.stop] = True
    particles = dropouts = down = 0
    waiting = sorted(bumps, key=lambda bump: bump.start, reverse=True)
    for _, stop in runs(spiked):
        parts = []
        while waiting and waiting[-1].start < stop:
            parts.append(waiting.pop())
        if len(parts) == 1 and parts[0].core <= _SINGLE:
            dropouts += 1
            continue
        particles += 1
        down += sum(part.area for part in parts) < 0.0
    return spiked, particles, dropouts, down
