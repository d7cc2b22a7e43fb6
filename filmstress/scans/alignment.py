"""Fine placement of two textures, to a small part of the grid step, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.correlation import Comparison, Placement
from filmstress.scans.texture import band_counts, band_means, fading, over_bands, without_form

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]

_ROUNDS = 8
_NEAR = 0.75  # of a grid step: nearer, the first order of the shift suffices


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
        Of the filtered traces, noise included, over their overlap [1], and its degrees of freedom.
    """

    offset: float
    u: float
    dof: float
    excess: float
    correlation: float
    looks: float
    common: float
    stage_sensitivity: float


@dataclass(frozen=True, slots=True, eq=False)
class _Overlap:
    """The overlapping parts in frequency: their difference (post minus pre), their mean, its slope.

    ``held`` is the sum of the squared weights, ``padding`` the ordinates per independent wave.
    """

    difference: Complexes
    mean: Complexes
    slope: Complexes
    held: float
    padding: float


def align(
    pair: Comparison,
    place: Placement,
    *,
    stage_offset: float | None = None,
    stage_share: float = 0.0,
) -> Alignment:
    """Refine a placement by weighted least squares.

    The difference of the aligned traces is regressed on the slope of their mean, wave by wave;
    the weights are inverse to the noise found in the difference itself, so that what the film
    has changed, or only one scan has, counts little.  Form is fitted jointly over the overlap.
    Taking the slope of the mean, not of one of the two, keeps noise from biasing the result and
    makes it change sign, exactly, when the scans are swapped.

    Parameters
    ----------
    pair : Comparison
    place : Placement
        A peak of the correlation.
    """
    lag = place.lag
    farthest = max(1, round(1.5 / (pair.bandwidth * pair.step)))
    for _ in range(_ROUNDS):
        overlap = _overlap(pair, lag, reversed=place.reversed)
        beside = 0.0 if stage_offset is None else stage_offset - pair.origin(reversed=place.reversed) - lag * pair.step
        shift, variance, dof, excess, sens = _shift(pair, overlap, beside, stage_share)
        if not abs(shift) > _NEAR * pair.step:
            break
        lag = max(place.lag - farthest, min(place.lag + farthest, lag + round(shift / pair.step)))
    pre = overlap.mean - 0.5 * overlap.difference
    post = overlap.mean + 0.5 * overlap.difference
    shared, power_pre, power_post = _product(pre, post), _power(pre), _power(post)
    noise = [t.noise / float(t.weight @ t.weight) * overlap.held for t in (pair.pre, pair.post)]
    return Alignment(
        offset=pair.origin(reversed=place.reversed)
        + pair.step * lag
        + (shift if math.isfinite(shift) else 0.0),
        u=math.sqrt(variance),
        dof=dof,
        excess=excess,
        correlation=_correlation(pair.gain, shared, power_pre, power_post),
        common=_correlation(pair.gate, shared, power_pre - noise[0], power_post - noise[1]),
        looks=max(1.0, pair.looks * pair.size / (overlap.padding * float(pair.pre.weight.sum()))- 1.0),
        stage_sensitivity=sens,
    )

def _correlation(gain, shared, power_pre, power_post):
    energy = max(0.0, float(gain @ power_pre)) * max(0.0, float(gain @ power_post))
    return float(gain @ shared) / math.sqrt(energy) if energy > 0.0 else 0.0


def _power(spectrum: Complexes) -> Floats:
    return spectrum.real**2 + spectrum.imag**2


def _product(one: Complexes, other: Complexes) -> Floats:
    return one.real * other.real + one.imag * other.imag


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
    spectra = np.fft.rfft(
        weight * np.stack((difference, mean, _slope(mean, pair.step))), pair.size
    )
    held = float(weight @ weight)
    return _Overlap(*spectra, held, pair.size * held / float(weight.sum()) ** 2)


def _slope(heights: Floats, step: float) -> Floats:
    """Slope by central differences of fourth order (0 at the two points of either end)."""
    slope = np.zeros_like(heights)
    slope[2:-2] = (
        8.0 * (heights[3:-1] - heights[1:-3]) - (heights[4:] - heights[:-4])
    ) / (12.0 * step)
    return slope


def _shift(pair: Comparison, overlap: _Overlap, beside: float, share: float) -> tuple[float, float, float, float, float]:
    """Shift, its variance and degrees of freedom, and the misfit's excess over white noise."""
    size, pre, post = pair.size, pair.pre, pair.post
    counts = band_counts(size)
    product = _product(overlap.slope, overlap.difference)
    omega = pair.unit * np.arange(size // 2 + 1)
    stage = omega * np.sin(omega * beside) * _power(overlap.mean) if beside else np.zeros(omega.size)
    product -= share * stage
    slope, difference = _power(overlap.slope), _power(overlap.difference)
    steepness = band_means((pair.unit * np.arange(size // 2 + 1)) ** 2, size)
    seen = band_means(slope, size) / steepness
    misfit = band_means(difference, size)
    white = overlap.held * (
        pre.noise / float(pre.weight @ pre.weight) + post.noise / float(post.weight @ post.weight)
    )
    for _ in range(2):
        noise = np.maximum(_smoothed(misfit), max(white, 1e-12 * float(seen.max())))
        texture = np.maximum(seen - 0.25 * noise, 0.0)
        weights = np.where(
            texture > 0.25 * noise, texture / ((texture + 0.25 * noise) * noise), 0.0
        )
        parts = counts * weights * steepness
        information = float(parts @ texture)
        if information <= 0.0:
            return 0.0, math.inf, math.inf, 0.0, 0.0
        shift = float(over_bands(weights, size) @ product) / information
        misfit = band_means(difference - 2.0 * shift * product + shift**2 * slope, size)
    # Wave by wave the product scatters with half the product of the two powers.
    scatter = 0.5 * parts * weights * (texture + 0.25 * noise) * noise
    total = float(scatter.sum())
    dof = total**2 / float((scatter**2 / (2.0 * counts / overlap.padding)).sum())
    excess = float((weights * counts) @ np.maximum(misfit - white, 0.0)) / information
    return shift, overlap.padding * total / information**2 + (0.01*pair.step)**2, dof, excess, float(over_bands(weights, size) @ stage)/information


def _smoothed(bands: Floats) -> Floats:
    padded = np.concatenate((bands[:1], bands, bands[-1:]))
    smooth: Floats = 0.25 * padded[:-2] + 0.5 * padded[1:-1] + 0.25 * padded[2:]
    return smooth
