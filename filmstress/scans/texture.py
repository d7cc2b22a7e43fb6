"""The fine waviness of a scan, made ready for comparison with others.

A scan is averaged onto a uniform grid, relieved of its slow form (which the film changes) and
given a filter that weights its waves nearly evenly, yet leaves out those that drown in noise:
then a placement shows as a narrow peak of the cross-correlation, and many waves, not the few
longest, decide about it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.resample import bin_means, typical_step

Floats = NDArray[np.float64]

MAX_BINS = 4096
FORM_ORDER = 8  # polynomial taken out: bow, and the film's cubic and quartic unevenness with room
LOW_CUT = (3.0, 5.0)  # waves per scan: left out below the first, used in full above the second
TAPER = 0.05  # share of the scan faded out at each end
FLOOR = 0.01  # spectral density, relative to the strongest band, that is not amplified further
SIGNIFICANT = 2.5  # standard deviations by which a band must rise above the noise floor
OUTLIER = 8.0  # robust standard deviations of the filtered trace beyond which a bin is dust
FILLED = 0.01  # gaps up to this share of the scan are bridged; longer ones carry no weight


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """A scan's waviness on a uniform grid, filtered, with its spectra.

    Attributes
    ----------
    step : float
        Grid step [m], a power of two of a metre so that any two grids nest.
    first, last : float
        Centres of the first and the last bin [m].
    heights, share : ndarray, shape (n,)
        Bin means without form [m], bridged where nothing is usable, and share of each bin that
        is usable.
    weight : ndarray, shape (n,)
        Fading at the ends; 0 in long gaps.
    size : int
        Length of the Fourier transforms, at least 2 n.
    spectrum, weight_spectrum : ndarray of complex, shape (size/2 + 1,)
        Of the heights without form, faded, and of ``weight``.
    filter : ndarray, shape (size/2 + 1,)
        Amplitude filter; 0 where there is nothing but noise.
    noise : float
        White noise in ``abs(spectrum)**2``.
    """

    step: float
    first: float
    last: float
    heights: Floats
    share: Floats
    weight: Floats
    size: int
    spectrum: NDArray[np.complex128]
    weight_spectrum: NDArray[np.complex128]
    filter: Floats
    noise: float

    @property
    def length(self) -> float:
        """Length of the scan [m]."""
        return self.last - self.first + self.step

    def brought_to(self, *, step_m: float, size: int) -> Texture:
        """The same on a grid of ``step_m`` (2, 4, 8 ... times coarser) and a longer transform."""
        heights, share, first, step = self.heights, self.share, self.first, self.step
        while step < step_m:
            half = heights.size // 2
            pair_share = share[: 2 * half].reshape(half, 2)
            area = (heights[: 2 * half].reshape(half, 2) * pair_share).sum(axis=1)
            share = pair_share.sum(axis=1)
            heights = area / np.where(share > 0.0, share, 1.0)
            share = 0.5 * share
            first += 0.5 * step
            step *= 2.0
        size = max(size, transform_size(heights.size))
        if step == self.step and size == self.size:
            return self
        return _texture(heights, share, first=first, step=step, size=size)


def prepare(
    x: Floats, z: Floats, *, keep: NDArray[np.bool_] | None = None
) -> Texture:
    """Make a scan ready for registration; the result may be matched against any number of others.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
        Position and height [m], x strictly increasing, n >= 2.
    keep : ndarray of bool, shape (n,), optional
        Points that may be used.
    """
    x = np.ascontiguousarray(x, dtype=np.float64)
    z = np.ascontiguousarray(z, dtype=np.float64)
    length = float(x[-1] - x[0])
    step = 2.0 ** math.ceil(math.log2(max(length / MAX_BINS, typical_step(x))))
    bins = max(2, math.floor(length / step * (1.0 + 1e-12)))
    edges = x[0] + step * np.arange(bins + 1)
    heights, share = bin_means(x, z, keep, edges)
    return _texture(
        heights, share, first=float(x[0] + 0.5 * step), step=step, size=transform_size(bins)
    )


def transform_size(bins: int) -> int:
    """Smallest power of two that holds two traces of this many bins side by side."""
    return 1 << max(6, (2 * bins - 1).bit_length())


@cache
def bands(size: int) -> NDArray[np.intp]:
    """First index of each band of frequencies; widths grow in proportion to the frequency.

    The narrowest are 8 ordinates of a transform padded to twice the scan's length or more: three
    to four independent waves.
    """
    starts = [1]
    while starts[-1] < size // 2:
        starts.append(starts[-1] + max(8, starts[-1] // 3))
    return np.array(starts[:-1], dtype=np.intp)


def band_sums(values: Floats, size: int) -> Floats:
    """Sum over each band of the given ordinates (one for each of the size/2 + 1 frequencies)."""
    return np.add.reduceat(values, bands(size))


def _texture(
    heights: Floats, share: Floats, *, first: float, step: float, size: int
) -> Texture:
    n = heights.size
    covered = share > 0.5
    for _ in range(2):
        smooth = _without_form(heights, covered)
        weight = _fading(covered)
        spectrum = np.fft.rfft(smooth * weight, size)
        amplitude, noise = _filter(spectrum, weight, size)
        filtered = np.fft.irfft(amplitude * spectrum, size)[:n]
        spread = 1.4826 * float(np.median(np.abs(filtered)))
        dusty = np.abs(filtered) > OUTLIER * spread
        if spread == 0.0 or not dusty.any():
            break
        covered = covered & ~dusty
    return Texture(
        step=step,
        first=first,
        last=first + (n - 1) * step,
        heights=smooth,
        share=np.where(covered, share, 0.0),
        weight=weight,
        size=size,
        spectrum=spectrum,
        weight_spectrum=np.fft.rfft(weight, size),
        filter=amplitude,
        noise=noise,
    )


def _without_form(heights: Floats, covered: NDArray[np.bool_]) -> Floats:
    """Heights minus their slow form; bins that are not covered are bridged by straight lines."""
    basis = _legendre(heights.size)
    if covered.all():
        return heights - basis @ _solve(basis, heights)
    index = np.flatnonzero(covered)
    if index.size <= FORM_ORDER + 1:
        return np.zeros_like(heights)
    form = basis @ _solve(basis[index], heights[index])
    return np.interp(np.arange(heights.size), index, (heights - form)[index])


def _solve(basis: Floats, heights: Floats) -> Floats:
    gram = basis.T @ basis
    gram[np.diag_indices_from(gram)] += 1e-12 * np.trace(gram)
    return np.linalg.solve(gram, basis.T @ heights)


@cache
def _legendre(n: int) -> Floats:
    order = min(FORM_ORDER, max(n // 4, 1))
    return np.polynomial.legendre.legvander(np.linspace(-1.0, 1.0, n), order)


def _fading(covered: NDArray[np.bool_]) -> Floats:
    n = covered.size
    ramp = max(2, round(TAPER * n))
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)
    weight = np.ones(n)
    weight[:ramp] *= rise
    weight[-ramp:] *= rise[::-1]
    if not covered.all():
        change = np.flatnonzero(np.diff(np.concatenate(([1], covered, [1]))))
        for begin, end in zip(change[::2], change[1::2], strict=True):
            if end - begin > FILLED * n:
                weight[begin:end] = 0.0
    return weight


def _filter(
    spectrum: NDArray[np.complex128], weight: Floats, size: int
) -> tuple[Floats, float]:
    """Amplitude filter and noise floor, from the band averages of the power spectrum."""
    power = np.abs(spectrum) ** 2
    starts = bands(size)
    ends = np.append(starts[1:], size // 2 + 1)
    density = band_sums(power, size) / (ends - starts)
    held = float(weight.sum())
    waves = (ends - starts) * held / size  # independent ones in each band
    middle = np.sqrt(starts * (ends - 1.0))
    flat = (middle > size / 16) & (ends <= size // 4)
    noise = float(density[flat].min()) if flat.any() else float(density[-1])
    texture = np.where(
        density > noise * (1.0 + SIGNIFICANT / np.sqrt(waves)), density - noise, 0.0
    )
    low, high = (cut * size / weight.size for cut in LOW_CUT)
    passed = np.clip((middle - low) / (high - low), 0.0, 1.0)
    strongest = float((texture * (passed == 1.0)).max())
    if strongest == 0.0:
        return np.zeros(power.size), noise
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = np.where(
            texture > 0.0, passed * texture / (density * (density + FLOOR * strongest)), 0.0
        )
    amplitude = np.sqrt(gain * strongest)
    return np.interp(np.arange(power.size), middle, amplitude), noise
