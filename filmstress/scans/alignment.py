"""Fine placement of two textures, to a small part of the grid step, with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.correlation import Comparison, Placement
from filmstress.scans.texture import band_counts, band_means, fading, over_bands, without_form

Floats = NDArray[np.float64]

_ROUNDS = 4


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
    correlation : float
        Of the filtered traces, noise included, over their overlap [1].
    """

    offset: float
    u: float
    dof: float
    excess: float
    correlation: float


@dataclass(frozen=True, slots=True, eq=False)
class _Overlap:
    """Mean and difference (post minus pre) of the overlapping parts, in frequency."""

    pre: NDArray[np.complex128]
    post: NDArray[np.complex128]
    held: float  # sum of the squared weights
    padding: float  # ordinates per independent wave


def align(pair: Comparison, place: Placement) -> Alignment:
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
    for _ in range(_ROUNDS):
        overlap = _overlap(pair, lag, reversed=place.reversed)
        shift, variance, dof, excess = _shift(pair, overlap)
        move = round(shift / pair.step) if math.isfinite(shift) else 0
        if move == 0:
            break
        lag += max(-8, min(8, move))
    pre, post, gain = overlap.pre, overlap.post, pair.gain
    energy = float(gain @ _power(pre)) * float(gain @ _power(post))
    shared = float(gain @ (pre.real * post.real + pre.imag * post.imag))
    return Alignment(
        offset=pair.origin(reversed=place.reversed)
        + pair.step * lag
        + (shift if math.isfinite(shift) else 0.0),
        u=math.sqrt(variance),
        dof=dof,
        excess=excess,
        correlation=shared / math.sqrt(energy) if energy > 0.0 else 0.0,
    )


def _power(spectrum: NDArray[np.complex128]) -> Floats:
    return spectrum.real**2 + spectrum.imag**2


def _overlap(pair: Comparison, lag: int, *, reversed: bool) -> _Overlap:
    pre, post = pair.pre, pair.post
    post_heights, post_share = post.heights, post.share
    if reversed:
        post_heights, post_share = post_heights[::-1], post_share[::-1]
        lag -= post_heights.size - 1
    begin, end = max(0, lag), min(pre.heights.size, post_heights.size + lag)
    here, there = slice(begin, end), slice(begin - lag, end - lag)
    columns = np.stack((pre.heights[here], post_heights[there]), axis=1)
    usable = (pre.share[here] > 0.0) & (post_share[there] > 0.0)
    columns = without_form(columns, None, total=pre.heights.size, begin=begin)
    weight = fading(usable)
    held = float(weight @ weight)
    spectra = np.fft.rfft(columns.T * weight, pair.size)
    return _Overlap(spectra[0], spectra[1], held, pair.size * held / float(weight.sum()) ** 2)


def _shift(pair: Comparison, overlap: _Overlap) -> tuple[float, float, float, float]:
    """Shift, its variance and degrees of freedom, and the misfit's excess over white noise."""
    size = pair.size
    pre, post = pair.pre, pair.post
    omega = pair.unit * np.arange(size // 2 + 1)
    difference = overlap.post - overlap.pre
    mean = 0.5 * (overlap.post + overlap.pre)
    power = _power(mean)
    # Re(conj(i omega mean) difference), the regression's product, wave by wave
    product = omega * (mean.real * difference.imag - mean.imag * difference.real)
    white = overlap.held * (
        pre.noise / float(pre.weight @ pre.weight) + post.noise / float(post.weight @ post.weight)
    )
    seen = band_means(power, size)
    misfit = band_means(_power(difference), size)
    shift = 0.0
    for _ in range(2):
        noise = np.maximum(_smoothed(misfit), max(white, 1e-12 * float(seen.max())))
        texture = np.maximum(seen - 0.25 * noise, 0.0)
        weights = texture / ((texture + 0.25 * noise) * noise)
        weights[texture < 0.25 * noise] = 0.0
        slope = band_means(omega**2, size) * texture * weights * band_counts(size)
        information = float(slope.sum())
        if information <= 0.0:
            return 0.0, math.inf, math.inf, 0.0
        shift = float(over_bands(weights, size) @ product) / information
        rest = _power(difference) - 2.0 * shift * product + (shift * omega) ** 2 * power
        misfit = band_means(rest, size)
    # Wave by wave the product scatters with variance omega^2 |mean|^2 |misfit|^2 / 2.
    parts = 0.5 * weights * slope * (1.0 + 0.25 * noise / np.maximum(texture, 1e-300)) * noise
    total = float(parts.sum())
    waves = 2.0 * band_counts(size) / overlap.padding
    dof = total**2 / float((parts**2 / waves).sum())
    excess = float((weights * band_counts(size)) @ np.maximum(misfit - white, 0.0)) / information
    return shift, overlap.padding * total / information**2, dof, excess


def _smoothed(bands: Floats) -> Floats:
    padded = np.concatenate((bands[:1], bands, bands[-1:]))
    smooth: Floats = 0.25 * padded[:-2] + 0.5 * padded[1:-1] + 0.25 * padded[2:]
    return smooth
