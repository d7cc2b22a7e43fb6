"""Fine placement of two textures, to a small part of the grid step, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.bands import band_counts, band_means, over_bands
from filmstress.scans.correlation import Comparison, Placement
from filmstress.scans.texture import fading, without_form

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

ROUNDS = 8
NEAR = 0.75  # of a grid step: a shift no larger is taken to first order
REACH = 1.2  # over the bandwidth: how far the fine placement may lie from the coarse one
GRID_ERROR = 0.003  # of a grid step: what interpolation between the points may add


@dataclass(frozen=True, slots=True)
class Alignment:
    """A fine placement.

    Attributes
    ----------
    offset : float
        Where it lies [m].
    u, dof : float
        Standard uncertainty [m] from the misfit that is left, and its degrees of freedom; both
        infinite where the two share nothing here.
    excess : float
        Mean square misfit beyond white noise over the information about the offset [m^2].
    correlation, looks : float
        Flat correlation over the overlap [1], noise included, and its degrees of freedom.
    common, common_looks : float
        The same of the plain correlation.
    stage_pull : float
        Change of the offset per unit of the stage's share [m]; 0 where no stage was given.
    """

    offset: float
    u: float
    dof: float
    excess: float
    correlation: float
    looks: float
    common: float
    common_looks: float
    stage_pull: float


@dataclass(frozen=True, slots=True, eq=False)
class _Overlap:
    """The overlapping parts in frequency: difference (post minus pre), mean, slope of the mean.

    ``held`` is the sum of the squared weights, ``padding`` the ordinates per independent wave.
    """

    difference: Complexes
    mean: Complexes
    slope: Complexes
    held: float
    padding: float


@dataclass(frozen=True, slots=True)
class _Shift:
    shift: float = 0.0
    variance: float = math.inf
    dof: float = math.inf
    excess: float = 0.0
    stage_pull: float = 0.0


def align(
    pair: Comparison,
    place: Placement,
    *,
    stay: bool = False,
    stage_offset: float | None = None,
    stage_share: float = 0.0,
) -> Alignment:
    """Refine a placement by weighted least squares.

    The difference of the placed traces is regressed on the slope of their mean, wave by wave; the
    weights are inverse to the noise found in the difference itself, so that what the film has
    changed, or only one scan has, counts little.  Form is fitted jointly over the overlap.  The
    slope of the mean, not of one of the two, keeps noise from biasing the result and makes it
    change sign when the scans are swapped.

    Parameters
    ----------
    pair : Comparison
    place : Placement
        A peak of the correlation.
    stay : bool
        Take the placement as it is; it need not be a peak.
    stage_offset : float, optional
        Offset [m] at which the stage's own straightness matches, in the same direction.
    stage_share : float
        Share of the texture that is the stage's; its pull towards ``stage_offset`` is taken out.
    """
    origin = pair.origin(reversed=place.reversed)
    reach = 0 if stay else max(1, round(REACH / (pair.flat.bandwidth * pair.step)))
    aim = place.lag
    for _ in range(ROUNDS):
        lag = aim
        overlap = _overlap(pair, lag, reversed=place.reversed)
        beside = 0.0 if stage_offset is None else stage_offset - origin - lag * pair.step
        found = _shift(pair, overlap, beside, stage_share)
        aim = lag + round(found.shift / pair.step)
        aim = max(place.lag - reach, min(place.lag + reach, aim))
        if aim == lag or abs(found.shift) <= NEAR * pair.step:
            break
    if abs(found.shift) > pair.step:  # it leads out of reach: there is no peak here
        found = _Shift()
    pre = overlap.mean - 0.5 * overlap.difference
    post = overlap.mean + 0.5 * overlap.difference
    shared, power_pre, power_post = _product(pre, post), _power(pre), _power(post)
    part = pair.size / (overlap.padding * float(min(pair.pre.weight.sum(), pair.post.weight.sum())))
    return Alignment(
        offset=origin + pair.step * lag + found.shift,
        u=math.hypot(math.sqrt(found.variance), GRID_ERROR * pair.step),
        dof=found.dof,
        excess=found.excess,
        correlation=_correlation(pair.flat.gain, shared, power_pre, power_post),
        looks=max(1.0, part * pair.flat.looks - 1.0),
        common=_correlation(pair.plain.gain, shared, power_pre, power_post),
        common_looks=max(1.0, part * pair.plain.looks - 1.0),
        stage_pull=found.stage_pull,
    )


def _power(spectrum: Complexes) -> Floats:
    return spectrum.real**2 + spectrum.imag**2


def _product(one: Complexes, other: Complexes) -> Floats:
    return one.real * other.real + one.imag * other.imag


def _correlation(gain: Floats, shared: Floats, power_pre: Floats, power_post: Floats) -> float:
    energy = float(gain @ power_pre) * float(gain @ power_post)
    return float(gain @ shared) / math.sqrt(energy) if energy > 0.0 else 0.0


def _overlap(pair: Comparison, lag: int, *, reversed: bool) -> _Overlap:
    pre, post = pair.pre, pair.post
    post_heights, post_share = post.heights, post.share
    if reversed:
        post_heights, post_share = post_heights[::-1], post_share[::-1]
        lag -= post_heights.size - 1
    begin, end = max(0, lag), min(pre.heights.size, post_heights.size + lag)
    here, there = slice(begin, end), slice(begin - lag, end - lag)
    columns = np.stack((pre.heights[here], post_heights[there]), axis=1)
    columns = without_form(columns, None, total=pre.heights.size, begin=begin)
    weight = fading((pre.share[here] > 0.0) & (post_share[there] > 0.0))
    difference = columns[:, 1] - columns[:, 0]
    mean = 0.5 * (columns[:, 0] + columns[:, 1])
    spectra = np.fft.rfft(weight * np.stack((difference, mean, _slope(mean, pair.step))), pair.size)
    held = float(weight @ weight)
    return _Overlap(
        spectra[0], spectra[1], spectra[2], held, pair.size * held / float(weight.sum()) ** 2
    )


def _slope(heights: Floats, step: float) -> Floats:
    """Slope by central differences of fourth order (0 at the two points of either end)."""
    slope = np.zeros_like(heights)
    slope[2:-2] = (8.0 * (heights[3:-1] - heights[1:-3]) - (heights[4:] - heights[:-4])) / (
        12.0 * step
    )
    return slope


def _shift(pair: Comparison, overlap: _Overlap, beside: float, share: float) -> _Shift:
    size, pre, post = pair.size, pair.pre, pair.post
    counts = band_counts(size)
    omega = pair.unit * np.arange(size // 2 + 1, dtype=np.float64)
    product = _product(overlap.slope, overlap.difference)
    stage = omega * np.sin(omega * beside) * _power(overlap.mean) if beside else 0.0 * omega
    product -= share * stage
    slope, difference = _power(overlap.slope), _power(overlap.difference)
    steepness = band_means(omega**2, size)
    seen = band_means(slope, size) / steepness
    misfit = band_means(difference, size)
    white = overlap.held * (
        pre.noise / float(pre.weight @ pre.weight) + post.noise / float(post.weight @ post.weight)
    )
    floor = max(white, 1e-12 * float(seen.max()))
    if floor == 0.0:
        return _Shift()
    for _ in range(2):  # the misfit is first taken from the unshifted difference
        noise = np.maximum(_smoothed(misfit), floor)
        texture = np.maximum(seen - 0.25 * noise, 0.0)
        weights = texture / ((texture + 0.25 * noise) * noise)
        weights[texture < 0.25 * noise] = 0.0
        parts = counts * weights * steepness
        information = float(parts @ texture)
        if information <= 0.0:
            return _Shift()
        shift, taken = _solve(
            float(over_bands(weights, size) @ product) / information,
            parts * texture / information,
            omega=np.sqrt(steepness),
            step=pair.step,
        )
        factor = over_bands(taken, size)
        misfit = band_means(difference - 2.0 * factor * product + factor**2 * slope, size)
    # Wave by wave the product scatters with half the product of the two powers.
    scatter = 0.5 * parts * weights * (texture + 0.25 * noise) * noise
    total = float(scatter.sum())
    return _Shift(
        shift=shift,
        variance=overlap.padding * total / information**2,
        dof=total**2 / float((scatter**2 * overlap.padding / (2.0 * counts)).sum()),
        excess=float((weights * counts) @ np.maximum(misfit - white, 0.0)) / information,
        stage_pull=float(over_bands(weights, size) @ stage) / information,
    )


def _solve(linear: float, parts: Floats, *, omega: Floats, step: float) -> tuple[float, Floats]:
    """The shift whose effect, averaged over bands with weights ``parts``, is ``linear``.

    A wave shifted by s differs from itself by 2 tan(omega s / 2) times its mean's quadrature, and
    finite differences take its slope to be omega_seen, not omega: so the regression finds
    2 tan(omega s / 2) / omega_seen.  Also returns that, band by band.
    """
    phase = np.minimum(omega * step, 2.0)
    omega_seen = (8.0 * np.sin(phase) - np.sin(2.0 * phase)) / (6.0 * step)
    shift = limit = max(-step, min(step, linear))
    for _ in range(3):
        half = 0.5 * phase / step * shift
        taken = 2.0 * np.tan(half) / omega_seen
        growth = float(parts @ (phase / step / (omega_seen * np.cos(half) ** 2)))
        shift += (limit - float(parts @ taken)) / growth
    if limit != linear:
        return linear, linear * np.ones_like(omega)
    return shift, taken


def _smoothed(bands: Floats) -> Floats:
    padded = np.concatenate((bands[:1], bands, bands[-1:]))
    smooth: Floats = 0.25 * padded[:-2] + 0.5 * padded[1:-1] + 0.25 * padded[2:]
    return smooth
