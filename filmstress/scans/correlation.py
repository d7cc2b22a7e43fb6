"""Cross-correlation of two textures over all placements, and what chance would make of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.texture import FORM_ORDER, Texture, band_counts, band_means, band_starts

Floats = NDArray[np.float64]

OVERLAP = 0.5  # least share of the shorter scan's weight that must lie on the other


@dataclass(frozen=True, slots=True)
class Placement:
    """One placement of the post scan, a whole number of grid steps, and its correlation."""

    lag: int
    offset: float
    reversed: bool
    correlation: float


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Correlation at every tried offset for one direction; NaN where the overlap is too small."""

    lags: NDArray[np.intp]
    offsets: Floats
    correlation: Floats

    def peak(self, *, reversed: bool) -> Placement | None:
        """The best placement of this curve."""
        if not np.isfinite(self.correlation).any():
            return None
        i = int(np.nanargmax(self.correlation))
        return Placement(
            int(self.lags[i]), float(self.offsets[i]), reversed, float(self.correlation[i])
        )

    def hill(self, offset: float, *, reversed: bool) -> Placement | None:
        """The top of the slope on which an offset lies."""
        if not self.lags.size or not self.offsets[0] <= offset <= self.offsets[-1]:
            return None
        i = int(np.argmin(np.abs(self.offsets - offset)))
        heights = self.correlation
        for direction in (-1, 1):
            while 0 <= i + direction < heights.size and heights[i + direction] > heights[i]:
                i += direction
        if not math.isfinite(heights[i]):
            return None
        return Placement(int(self.lags[i]), float(self.offsets[i]), reversed, float(heights[i]))

    def within(self, offset: float, width: float, *, inside: bool) -> Curve:
        """Only what lies nearer to an offset than ``width``, or only what does not."""
        near = np.abs(self.offsets - offset) < width
        return Curve(
            self.lags, self.offsets, np.where(near == inside, self.correlation, np.nan)
        )


class Comparison:
    """Two textures on one grid, ready to be laid on one another in every way.

    The post scan's bin j lies on the pre scan's bin ``lag + j``, or ``lag - j`` when reversed.
    Both are seen through the product of their filters.

    Attributes
    ----------
    looks : float
        Effective number of independent products in a correlation [1]; that of unlike scans
        scatters as that of so many pairs of numbers (Bartlett's formula, summed over bands).
    bandwidth : float
        Root mean square angular frequency of the correlation [rad/m]; 2/bandwidth is where a
        peak has faded.
    possible : float
        Correlation that the noise would leave of a perfect match [1].
    """

    def __init__(self, pre: Texture, post: Texture) -> None:
        self.pre, self.post = pre, post
        self.step, self.size = pre.step, pre.size
        self.gain = pre.filter * post.filter
        one, other = self.gain * pre.power, self.gain * post.power
        energy_pre, energy_post = float(one.sum()), float(other.sum())
        self.energy = math.sqrt(energy_pre * energy_post)
        self.looks = self.bandwidth = self.possible = 0.0
        if self.energy == 0.0:
            return
        white = float(self.gain.sum())
        texture_pre = max(0.0, 1.0 - white * pre.noise / energy_pre)
        texture_post = max(0.0, 1.0 - white * post.noise / energy_post)
        self.possible = math.sqrt(texture_pre * texture_post)
        counts = band_counts(self.size)
        product = counts * band_means(one, self.size) * band_means(other, self.size)
        total = float(product.sum())
        padding = self.size / min(pre.weight.sum(), post.weight.sum())
        self.looks = max(2.0, 2.0 * self.energy**2 / (padding * total) - (FORM_ORDER + 1))
        middle = self.unit * (band_starts(self.size) + 0.5 * (counts - 1.0))
        self.bandwidth = math.sqrt(float(middle**2 @ product) / total)

    @property
    def unit(self) -> float:
        """Angular frequency of the first ordinate [rad/m]."""
        return 2.0 * math.pi / (self.size * self.step)

    def origin(self, *, reversed: bool) -> float:
        """Offset of lag 0 [m]."""
        return self.pre.first + self.post.first if reversed else self.pre.first - self.post.first

    def curve(self, search_m: float, *, reversed: bool) -> Curve:
        """Correlation, normalised by the overlap, at every lag within the search range."""
        pre, post, size = self.pre, self.post, self.size
        origin = self.origin(reversed=reversed)
        reach = pre.heights.size + post.heights.size - 2
        lowest, highest = (0, reach) if reversed else (1 - post.heights.size, pre.heights.size - 1)
        lags = np.arange(
            max(lowest, math.ceil((-search_m - origin) / self.step - 1e-9)),
            min(highest, math.floor((search_m - origin) / self.step + 1e-9)) + 1,
        )
        partner = post.spectrum if reversed else post.spectrum.conj()
        weight = post.weight_spectrum if reversed else post.weight_spectrum.conj()
        shared = np.fft.irfft(pre.weight_spectrum * weight, size)[lags]
        correlation = np.full(lags.size, np.nan)
        full = pre.weight.sum(), post.weight.sum()
        enough = shared > OVERLAP * min(full)
        if self.energy > 0.0 and enough.any():
            product = np.fft.irfft(pre.spectrum * partner * self.gain, size)[lags]
            scale = 0.5 * size * math.sqrt(full[0] * full[1]) / self.energy
            np.divide(scale * product, shared, out=correlation, where=enough)
        else:
            correlation[enough] = 0.0
        return Curve(lags, origin + lags * self.step, correlation)

    @cached_property
    def own(self) -> Floats:
        """Mean autocorrelation of the two, by lag: the shape a perfect match would have."""
        mixed = self.gain * (
            self.pre.power / (self.gain @ self.pre.power)
            + self.post.power / (self.gain @ self.post.power)
        )
        return np.fft.irfft(0.25 * self.size * mixed, self.size)

    def without(self, curve: Curve, place: Placement) -> Curve:
        """The curve less what a match at ``place`` puts there and elsewhere."""
        shape = self.own[np.abs(curve.lags - place.lag)]
        return Curve(
            curve.lags, curve.offsets, curve.correlation - place.correlation * shape
        )


def tries(search_m: float, *, bandwidth: float, directions: int) -> float:
    """Effective number of independent placements within a search.

    Rate of upcrossings of a smooth normal process times the length of the search (Rice, Bell
    System Technical Journal 23, 1944, eq. 3.3-14), as a factor of the tail probability.
    """
    return directions * (0.5 + search_m * bandwidth / math.pi)


def chance(correlation: float, *, looks: float, tries: float) -> float:
    """Probability that the best of so many placements of unlike scans correlates so well.

    (1 - r^2)^(looks/2) is, but for a slowly varying factor, the tail of the correlation of two
    unrelated series of ``looks`` values.
    """
    if correlation <= 0.0 or looks <= 0.0:
        return 1.0
    log_tail = 0.5 * looks * math.log1p(-(min(correlation, 1.0 - 1e-9) ** 2))
    return -math.expm1(-tries * math.exp(log_tail))


def chance_level(probability: float, *, looks: float, tries: float) -> float:
    """Correlation that unlike scans exceed with this probability: the inverse of `chance`."""
    if looks <= 0.0:
        return 1.0
    tail = min(1.0, -math.log1p(-probability) / tries)
    return math.sqrt(-math.expm1(2.0 / looks * math.log(tail)))
