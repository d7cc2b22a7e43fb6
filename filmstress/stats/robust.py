"""Finds what does not belong to a trace: wild points and narrow bumps, with their skirts.

At every scale, from single points up, the trace is compared with a line through running medians.
What stands out from it by six times the robust scatter of that scale is masked.  Shape and noise
are part of that scatter, so waviness and correlated noise are left alone.
"""

from __future__ import annotations

import itertools
import math
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
_MIN_POINTS = 3 * _WINDOW
# The scatter may vary along the trace; it is taken over this many medians.
_NEIGHBOURS = 15
_SHAPE_BLOCKS = 50
_SHAPE_ORDER = 4
_SHAPE_ROUNDS = 5
_SINGLE = 2
# A bump is wide at its foot, and bumps may lie side by side: in units of the widest.
_MAX_CORE = 4.0


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
    t = (x - x[0]) * (2.0 / (x[-1] - x[0])) - 1.0
    size = x.size // max(x.size // _SHAPE_BLOCKS, 1)
    count = x.size // size * size
    stride = count // size
    middle = stride // 2
    heights = np.partition(y[:count].reshape(size, stride), middle, axis=1)[:, middle]
    places = t[middle:count:stride]
    powers = np.vander(places, min(_SHAPE_ORDER, size // 3) + 1)
    coefficients = np.linalg.lstsq(powers, heights, rcond=None)[0]
    for _ in range(_SHAPE_ROUNDS):
        # Least absolute deviations by re-weighting: medians within wide bumps must not steer it.
        off = np.abs(heights - powers @ coefficients)
        weight = 1.0 / np.sqrt(off + 1e-3 * np.median(off) + np.finfo(np.float64).tiny)
        coefficients = np.linalg.lstsq(powers * weight[:, None], heights * weight, rcond=None)[0]
    rest: Floats = y - np.polyval(coefficients, t)
    return rest


def _digit(y: Floats) -> float:
    """Smallest step between neighbours: the last digit of coarsely digitised heights [y].

    Where most heights repeat one digit, the scatter vanishes and the next digit would be a spike.
    """
    steps = np.abs(np.diff(y))
    rounding = 64.0 * np.finfo(np.float64).eps * float(np.abs(y).max())
    return float(steps[steps > rounding].min(initial=np.inf)) if steps.max() > rounding else 0.0


def _find_bumps(values: Floats, longest: float, *, least_scatter: float) -> list[_Bump]:
    """Look coarse first: only windows much wider than a bump show all of it.

    ``values`` is changed: bumps that were found are bridged, so that a finer look passes over them.
    """
    bumps: list[_Bump] = []
    point_scatter = _point_scatter(values)
    for scale in _scales(values.size, longest):
        look = _look(values, scale, least_scatter)
        for start, stop in _runs(look.flagged):
            bump = _narrow_down(
                values, look, scale * start, scale * stop, point_scatter=point_scatter
            )
            # At an end the trace is seen on one side only, and a roll-off looks like a bump.
            at_end = bump.start == 0 or bump.stop == values.size
            most = longest if at_end else _MAX_CORE * longest
            if bump.core <= max(_SINGLE, most):
                _bridge(values, bump)
                bumps.append(bump)
    return bumps


def _point_scatter(values: Floats) -> float:
    """Standard deviation from point to point, from the differences of some neighbours."""
    some = slice(None, None, max(1, values.size // 2048))
    return MAD_TO_SD / math.sqrt(2.0) * float(np.median(np.abs(np.diff(values)[some])))


def _scales(points: int, longest: float) -> list[int]:
    """Points per sample, coarse to fine, by factors of up to four; the last is 1."""
    top = min(0.25 * longest, points / (4.0 * _WINDOW))
    if top <= 1.0:
        return [1]
    steps = math.ceil(math.log(top) / math.log(_COARSER))
    return sorted({round(top ** (i / steps)) for i in range(steps + 1)}, reverse=True)


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """Samples of ``scale`` points against lines through medians of 16 of them."""

    scale: int
    lines: Floats
    scatter: Floats
    flagged: Mask


def _look(values: Floats, scale: int, least_scatter: float) -> _Look:
    size = values.size // scale
    samples = values[: size * scale].reshape(size, scale).mean(axis=1) if scale > 1 else values
    rows = _padded(samples, _WINDOW).reshape(-1, _WINDOW)
    half = _WINDOW // 2
    medians = _row_medians(rows)
    step = np.diff(medians)
    before = np.concatenate([step[:1], step])[:, None]
    after = np.concatenate([step, step[-1:]])[:, None]
    place = (np.arange(half) + 0.5) / _WINDOW
    lines = np.concatenate([before * (place - 0.5), after * place], axis=1) + medians[:, None]
    residual = np.abs(rows - lines)
    local = MAD_TO_SD * _row_medians(residual)
    typical = max(float(np.median(local)), least_scatter)
    scatter = np.repeat(np.maximum(_running_median(local), typical), _WINDOW)[:size]
    # Half a window at either end lies outside the medians.
    limit = THRESHOLD * scatter
    limit[:half] *= 2.0
    limit[-half:] *= 2.0
    return _Look(scale, lines.ravel()[:size], scatter, residual.ravel()[:size] > limit)


def _narrow_down(
    values: Floats, look: _Look, start: int, stop: int, *, point_scatter: float
) -> _Bump:
    """Fit the mask to the bump: out to where finer means come back to the line."""
    reach = 3 * (stop - start)
    low, high = max(start - reach, 0), min(stop + reach, values.size)
    samples = slice(max(low // look.scale - 1, 0), high // look.scale + 2)
    places = (np.arange(look.lines.size)[samples] + 0.5) * look.scale - 0.5
    rest = values[low:high] - np.interp(np.arange(low, high), places, look.lines[samples])
    scatter = float(look.scatter[start // look.scale])
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
        touching = [run for run in _runs(size > tolerance) if run[1] > first and run[0] < last]
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
    side = min(_WINDOW, bump.stop - bump.start)
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
    for start, stop in _runs(spiked):
        parts = [bump for bump in bumps if start <= bump.start < stop]
        if len(parts) == 1 and parts[0].core <= _SINGLE:
            dropouts += 1
            continue
        particles += 1
        down += sum(part.area for part in parts) < 0.0
    return spiked, particles, dropouts, down


def _runs(flags: Mask) -> list[tuple[int, int]]:
    """Starts and stops of runs of True."""
    edges = np.flatnonzero(flags[1:] != flags[:-1]) + 1
    bounds = [0, *edges.tolist(), flags.size]
    return list(itertools.pairwise(bounds))[0 if flags[0] else 1 :: 2]


def _padded(values: Floats, multiple: int) -> Floats:
    """Mirror the last values until the length is a multiple."""
    short = -values.size % multiple
    return np.concatenate([values, values[-short - 1 : -1][::-1]]) if short else values


def _row_medians(rows: Floats) -> Floats:
    middle = rows.shape[1] // 2
    medians: Floats = np.partition(rows, middle, axis=1)[:, middle]
    return medians


def _running_median(values: Floats) -> Floats:
    """Median over the neighbours either side, over fewer towards the ends."""
    reach = min(_NEIGHBOURS, values.size) // 2
    wide = np.concatenate([values[reach:0:-1], values, values[-2 : -reach - 2 : -1]])
    return _row_medians(np.lib.stride_tricks.sliding_window_view(wide, 2 * reach + 1))
