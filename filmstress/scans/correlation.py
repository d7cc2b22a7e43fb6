"""Cross-correlation of two textures over all placements, and what chance would make of it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.bands import band_counts, band_means, band_starts
from filmstress.scans.texture import FORM_ORDER, Texture

Floats = NDArray[np.float64]

OVERLAP = 0.5  # least share of the shorter scan's weight that must lie on the other


@dataclass(frozen=True, slots=True)
class Placement:
    """A placement of the post scan by whole grid steps: lag [1], offset [m] and correlation [1]."""

    lag: int
    offset: float
    reversed: bool
    correlation: float


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Correlation at every tried offset in one direction; NaN where the overlap is too small."""

    reversed: bool
    lags: NDArray[np.intp]
    offsets: Floats
    correlation: Floats

    def place(self, index: int) -> Placement:
        """The placement at an index of the curve."""
        return Placement(
            int(self.lags[index]),
            float(self.offsets[index]),
            self.reversed,
            float(self.correlation[index]),
        )

    def nearest(self, offset: float, *, step: float) -> int | None:
        """Index of the placement at an offset; None if it was not tried or overlaps too little."""
        if not self.lags.size:
            return None
        index = int(np.argmin(np.abs(self.offsets - offset)))
        tried = abs(self.offsets[index] - offset) <= step
        return index if tried and math.isfinite(self.correlation[index]) else None

    def uphill(self, index: int) -> int:
        """Index of the top of the slope on which an index lies."""
        heights = self.correlation
        for way in (-1, 1):
            while 0 <= index + way < heights.size and heights[index + way] > heights[index]:
                index += way
        return index

    def showing(self, correlation: Floats) -> Curve:
        """The same placements with other values."""
        return Curve(self.reversed, self.lags, self.offsets, correlation)


def best(curves: Iterable[Curve]) -> Placement | None:
    """The highest of all placements."""
    peaks = [
        curve.place(int(np.nanargmax(curve.correlation)))
        for curve in curves
        if np.isfinite(curve.correlation).any()
    ]
    return max(peaks, key=lambda peak: peak.correlation, default=None)


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """Two textures seen through one filter.

    Attributes
    ----------
    gain : ndarray
        Product of the two amplitude filters, by ordinate.
    energy : float
        Geometric mean of the two filtered energies; 0 where nothing passes.
    possible : float
        Correlation that the noise would leave of a perfect match [1].
    looks : float
        Degrees of freedom of a correlation: that of unlike scans scatters like the correlation of
        so many pairs of independent numbers (Bartlett's formula summed over bands of frequency,
        less what the form takes out).
    bandwidth : float
        Root mean square angular frequency [rad/m]; 2/bandwidth from its top a peak has faded.
    """

    gain: Floats
    energy: float = 0.0
    possible: float = 0.0
    looks: float = 0.0
    bandwidth: float = 0.0


def _view(pre: Texture, post: Texture, gain: Floats, unit: float) -> View:
    one, other = gain * pre.power, gain * post.power
    energy_pre, energy_post = float(one.sum()), float(other.sum())
    if energy_pre * energy_post == 0.0:
        return View(gain)
    white = float(gain.sum())
    texture_pre = max(0.0, 1.0 - white * pre.noise / energy_pre)
    texture_post = max(0.0, 1.0 - white * post.noise / energy_post)
    counts = band_counts(pre.size)
    product = counts * band_means(one, pre.size) * band_means(other, pre.size)
    # A narrow line in both scans stands out of its band; like scans double the sum by themselves.
    total = max(float(product.sum()), 0.5 * float(one @ other))
    padding = pre.size / float(min(pre.weight.sum(), post.weight.sum()))
    middle = unit * (band_starts(pre.size) + 0.5 * (counts - 1.0))
    return View(
        gain=gain,
        energy=math.sqrt(energy_pre * energy_post),
        possible=math.sqrt(texture_pre * texture_post),
        looks=max(0.0, 2.0 * energy_pre * energy_post / (padding * total) - (FORM_ORDER + 1)),
        bandwidth=math.sqrt(float(middle**2 @ product) / float(product.sum())),
    )


class Comparison:
    """Two textures on one grid, ready to be laid on one another in every way.

    The post scan's bin j lies on the pre scan's bin ``lag + j``, or ``lag - j`` when reversed.

    Attributes
    ----------
    flat : View
        All waves count nearly alike: sharp peaks, many looks, but sensitive to correlated noise.
    plain : View
        Waves count by their height: insensitive to such noise, but few looks.
    unit : float
        Angular frequency of the first ordinate [rad/m].
    """

    def __init__(self, pre: Texture, post: Texture) -> None:
        self.pre, self.post = pre, post
        self.step, self.size = pre.step, pre.size
        self.unit = 2.0 * math.pi / (self.size * self.step)
        self.flat = _view(pre, post, pre.flat * post.flat, self.unit)
        self.plain = _view(pre, post, pre.gate * post.gate, self.unit)

    def origin(self, *, reversed: bool) -> float:
        """Offset of lag 0 [m]."""
        return self.pre.first + self.post.first if reversed else self.pre.first - self.post.first

    def curve(self, search_m: float, *, reversed: bool) -> Curve:
        """Flat correlation, normalised by the overlap, at every lag within the search range."""
        pre, post, size = self.pre, self.post, self.size
        origin = self.origin(reversed=reversed)
        ends = pre.heights.size - 1, post.heights.size - 1
        lowest, highest = (0, sum(ends)) if reversed else (-ends[1], ends[0])
        lags = np.arange(
            max(lowest, math.ceil((-search_m - origin) / self.step - 1e-9)),
            min(highest, math.floor((search_m - origin) / self.step + 1e-9)) + 1,
        )
        weight = post.weight_spectrum if reversed else post.weight_spectrum.conj()
        shared = np.fft.irfft(pre.weight_spectrum * weight, size)[lags]
        full = float(pre.weight.sum()), float(post.weight.sum())
        enough = shared > OVERLAP * min(full)
        correlation = np.full(lags.size, np.nan)
        if self.flat.energy == 0.0:
            correlation[enough] = 0.0
        elif enough.any():
            partner = post.spectrum if reversed else post.spectrum.conj()
            product = np.fft.irfft(pre.spectrum * partner * self.flat.gain, size)[lags]
            scale = 0.5 * size * math.sqrt(full[0] * full[1]) / self.flat.energy
            np.divide(scale * product, shared, out=correlation, where=enough)
        return Curve(reversed, lags, origin + self.step * lags.astype(np.float64), correlation)

    @cached_property
    def own(self) -> Floats:
        """Mean autocorrelation of the two, by lag: the shape of a perfect match's peak."""
        gain = self.flat.gain
        mixed = gain * (
            self.pre.power / (gain @ self.pre.power) + self.post.power / (gain @ self.post.power)
        )
        return np.fft.irfft(0.25 * self.size * mixed, self.size)


def effective_tries(search_m: float, *, bandwidth: float, directions: int) -> float:
    """Effective number of independent placements within a search.

    The factor by which a search raises the tail probability of one correlation: the rate at which
    a smooth normal process crosses a high level, times the length of the search.

    References
    ----------
    S. O. Rice, Mathematical analysis of random noise, Bell System Technical Journal 23 (1944) 282
    and 24 (1945) 46, section 3.3 (expected number of crossings).
    """
    return directions * (0.5 + search_m * bandwidth / math.pi)


def chance(correlation: float, *, looks: float, tries: float) -> float:
    """Probability that the best of so many placements of unlike scans correlates so well.

    (1 - r^2)^((looks - 1)/2) is, but for a slowly varying factor, the tail of the correlation of
    ``looks`` pairs of unrelated normal numbers of zero mean.
    """
    if correlation <= 0.0 or looks <= 1.0:
        return 1.0
    log_tail = 0.5 * (looks - 1.0) * math.log1p(-(min(correlation, 1.0 - 1e-9) ** 2))
    return -math.expm1(-tries * math.exp(log_tail))


def chance_level(probability: float, *, looks: float, tries: float) -> float:
    """Correlation that unlike scans exceed with this probability: the inverse of `chance`."""
    if looks <= 1.0:
        return 1.0
    tail = min(1.0, -math.log1p(-probability) / tries)
    return math.sqrt(-math.expm1(2.0 / (looks - 1.0) * math.log(tail)))
