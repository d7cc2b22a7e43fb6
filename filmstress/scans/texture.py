"""The fine waviness of a scan, made ready for comparison with others.

A scan is averaged onto a uniform grid, relieved of its slow form (which the film changes) and
given a filter that weights its waves nearly evenly, yet leaves out those that drown in noise:
then a placement shows as a narrow peak of the cross-correlation, and many waves, not the few
longest, decide about it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.bands import band_counts, band_means, band_starts
from filmstress.scans.resample import bin_means, typical_step
from filmstress.stats.median import median

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Bools = NDArray[np.bool_]

MAX_BINS = 2048
FORM_ORDER = 5  # of the polynomial taken out: bow, cubic and quartic unevenness, and one to spare
LOW_CUT = (2.0, 3.0)  # waves per scan: left out below the first, used in full above the second
TAPER = 0.05  # share of the scan faded out at each end
FLOOR = 0.01  # spectral density, relative to the strongest band, that is not amplified further
SIGNIFICANT = 2.5  # standard deviations by which a band must rise above the noise floor
OUTLIER = 8.0  # robust standard deviations of the filtered trace beyond which a bin is dust
BRIDGED = 0.01  # gaps up to this share of the scan are bridged; longer ones carry no weight
LEAKED = 0.15  # of a band's power: if a gentle window leaves less, the ends of the scan made it
ROUNDING = 1e-14  # of the largest height: what arithmetic leaves of a smooth scan


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """A scan's waviness on a uniform grid, with its spectrum and the filter that suits it.

    Attributes
    ----------
    step : float
        Grid step [m], from a ladder of fixed steps, so that like scans have like grids.
    spacing : float
        Typical distance between the scan's own points [m].
    first : float
        Centre of the first bin [m].
    heights : ndarray, shape (n,)
        Bin means without form [m], bridged by straight lines where nothing is usable.
    share : ndarray, shape (n,)
        Share of each bin that is usable, 0 to 1.
    weight : ndarray, shape (n,)
        Fading at the ends and beside long gaps, in which it is 0.
    size : int
        Length of the Fourier transforms, at least 2 n.
    spectrum, weight_spectrum : ndarray of complex, shape (size/2 + 1,)
        Of ``heights * weight`` and of ``weight``.
    power : ndarray, shape (size/2 + 1,)
        Squared modulus of ``spectrum``.
    flat, gate : ndarray, shape (size/2 + 1,)
        Amplitude filters, 0 where there is nothing but noise: the first makes all waves count
        nearly alike, the second leaves them as they are.
    noise : float
        White noise in ``power``.
    """

    step: float
    spacing: float
    first: float
    heights: Floats
    share: Floats
    weight: Floats
    size: int
    spectrum: Complexes
    weight_spectrum: Complexes
    power: Floats
    flat: Floats
    gate: Floats
    noise: float


def prepare(x: Floats, z: Floats, *, keep: Bools | None = None) -> Texture:
    """Make a scan ready for registration; the result may be compared with any number of others.

    Parameters
    ----------
    x, z : ndarray, shape (n,)
        Position and height [m], x strictly increasing, n >= 2.
    keep : ndarray of bool, shape (n,), optional
        Points that may be used.
    """
    x = np.ascontiguousarray(x, dtype=np.float64)
    z = np.ascontiguousarray(z, dtype=np.float64)
    spacing = typical_step(x)
    finest = max(float(x[-1] - x[0]) / MAX_BINS, spacing)
    step = 2.0 ** (math.ceil(4.0 * math.log2(finest) - 1e-6) / 4.0)
    return _binned(x, z, keep, step=step, spacing=spacing)


def on_common_grid(one: Texture, other: Texture) -> tuple[Texture, Texture]:
    """Two textures with one grid step (the coarser) and one length of their transforms."""
    step = max(one.step, other.step)
    one, other = _coarser(one, step), _coarser(other, step)
    size = max(one.size, other.size)
    return _longer(one, size), _longer(other, size)


def _binned(x: Floats, z: Floats, keep: Bools | None, *, step: float, spacing: float) -> Texture:
    bins = max(2, math.floor(float(x[-1] - x[0]) / step + 1e-9))
    edges = x[0] + step * np.arange(bins + 1)
    heights, share = bin_means(x, z, keep, edges[:-1], edges[1:])
    return _texture(
        heights, share, step=step, spacing=spacing, first=float(x[0]) + 0.5 * step, size=0
    )


def _coarser(texture: Texture, step: float) -> Texture:
    if texture.step == step:
        return texture
    centres = texture.first + texture.step * np.arange(texture.heights.size, dtype=np.float64)
    return _binned(
        centres, texture.heights, texture.share > 0.0, step=step, spacing=texture.spacing
    )


def _longer(texture: Texture, size: int) -> Texture:
    if texture.size == size:
        return texture
    return _texture(
        texture.heights,
        texture.share,
        step=texture.step,
        spacing=texture.spacing,
        first=texture.first,
        size=size,
    )


def without_form(columns: Floats, usable: Bools | None, *, total: int, begin: int = 0) -> Floats:
    """Columns minus their polynomial form, fitted at the usable rows.

    ``begin`` and ``total`` place the rows within the full scan, whose basis serves all its parts.
    """
    basis = _legendre(total)[begin : begin + columns.shape[0]]
    fitted, data = (basis, columns) if usable is None else (basis[usable], columns[usable])
    gram = fitted.T @ fitted
    # By least squares, since points left in few places may not fix the polynomial.
    form = np.linalg.lstsq(gram, fitted.T @ data, rcond=None)[0]
    rest: Floats = columns - basis @ form
    return rest


@lru_cache(maxsize=16)
def _legendre(n: int) -> Floats:
    order = min(FORM_ORDER, max(n // 4, 1))
    basis = np.polynomial.legendre.legvander(np.linspace(-1.0, 1.0, n), order)
    return np.asarray(basis, dtype=np.float64)


def fading(usable: Bools) -> Floats:
    """Weights that rise from 0 at the ends and beside gaps too long to be bridged."""
    n = usable.size
    ramp = max(2, round(TAPER * n))
    rise = _rise(ramp)
    weight = np.ones(n)
    weight[:ramp] *= rise[:n]
    weight[-ramp:] *= rise[:n][::-1]
    if not usable.all():
        turns = np.flatnonzero(np.diff(np.concatenate(([True], usable, [True]))))
        for begin, end in zip(turns[::2], turns[1::2], strict=True):
            if end - begin > BRIDGED * n:
                weight[begin:end] = 0.0
                before, after = weight[max(0, begin - ramp) : begin], weight[end : end + ramp]
                before *= rise[: before.size][::-1]
                after *= rise[: after.size]
    return weight


@lru_cache(maxsize=16)
def _rise(ramp: int) -> Floats:
    return 0.5 - 0.5 * np.cos(np.pi * (np.arange(ramp) + 0.5) / ramp)


def _texture(
    heights: Floats, share: Floats, *, step: float, spacing: float, first: float, size: int
) -> Texture:
    n = heights.size
    size = max(size, 1 << max(6, (2 * n - 1).bit_length()))
    usable: Bools = share > 0.5
    between = _sagitta(heights, usable) * (spacing / step) ** 2
    rounding = n * (ROUNDING * float(np.abs(heights).max()) + between) ** 2
    for _ in range(3):
        smooth = _bridged(heights, usable)
        weight = fading(usable)
        spectrum = np.fft.rfft(smooth * weight, size)
        power = spectrum.real**2 + spectrum.imag**2
        flat, gate, noise = _filters(
            power,
            _gently(smooth, weight, size),
            weight,
            points_per_bin=step / spacing,
            rounding=rounding,
        )
        dust = _dust(np.fft.irfft(flat * spectrum, size)[:n])
        if dust is None or not (usable & dust).any():
            break
        usable = usable & ~dust
    return Texture(
        step=step,
        spacing=spacing,
        first=first,
        heights=smooth,
        share=np.where(usable, share, 0.0),
        weight=weight,
        size=size,
        spectrum=spectrum,
        weight_spectrum=np.fft.rfft(weight, size),
        power=power,
        flat=flat,
        gate=gate,
        noise=noise,
    )


def _sagitta(heights: Floats, usable: Bools) -> float:
    """How far a chord over one bin lies off the scan's bow: what lines between points may err."""
    index = np.flatnonzero(usable)
    if index.size < 3:
        return 0.0
    left, middle, right = (int(index[k]) for k in (0, index.size // 2, -1))
    chord = np.interp(middle, [left, right], heights[[left, right]])
    bow = float(abs(heights[middle] - chord))
    return bow / (4.0 * float((middle - left) * (right - middle)))


def _bridged(heights: Floats, usable: Bools) -> Floats:
    n = heights.size
    if usable.all():
        return without_form(heights[:, None], None, total=n)[:, 0]
    index = np.flatnonzero(usable)
    if index.size <= FORM_ORDER + 1:
        return np.zeros(n)
    rest = without_form(heights[:, None], usable, total=n)[:, 0]
    return np.interp(np.arange(n), index, rest[index])


def _dust(filtered: Floats) -> Bools | None:
    """Bins that stand far out of the filtered trace, which looks like noise by construction."""
    size = np.abs(filtered)
    limit = OUTLIER * 1.4826 * median(size)
    if limit == 0.0 or float(size.max()) <= limit:
        return None
    out = np.concatenate(([False], size > limit, [False]))
    return out[:-2] | out[1:-1] | out[2:]


def _gently(smooth: Floats, weight: Floats, size: int) -> Floats:
    """Power under a window whose own spectrum falls so fast that no form leaks through it."""
    gentle = weight * np.blackman(weight.size + 2)[1:-1]
    spectrum = np.fft.rfft(smooth * gentle, size)
    power: Floats = spectrum.real**2 + spectrum.imag**2
    return power * (float(weight @ weight) / max(float(gentle @ gentle), 1e-300))


def _filters(
    power: Floats, calm: Floats, weight: Floats, *, points_per_bin: float, rounding: float
) -> tuple[Floats, Floats, float]:
    """Both amplitude filters, and white noise in the power, from band means of the power.

    Form smoother than the polynomial takes out leaks from the faded ends into all bands, the same
    way on any wafer: bands that it fills, which are nearly empty in the ``calm`` power, carry no
    waviness.
    """
    size = 2 * (power.size - 1)
    starts, counts = band_starts(size), band_counts(size)
    density = band_means(power, size)
    middle = np.sqrt(starts * (starts + counts - 1.0))
    # The noise is that of the quietest band in the upper part, where waviness hardly reaches.
    upper = (middle > size / 16) & (middle < 0.4 * size)
    noise = float((density[upper] / _noise_passed(middle[upper] / size, points_per_bin)).min())
    noise = max(noise, rounding)
    waves = counts * max(float(weight.sum()), 1.0) / size
    wavy = density > noise * (1.0 + SIGNIFICANT / np.sqrt(waves))
    wavy &= band_means(calm, size) > LEAKED * density
    texture = np.where(wavy, density - noise, 0.0)
    low, high = (cut * size / weight.size for cut in LOW_CUT)
    passed = np.clip((middle - low) / (high - low), 0.0, 1.0)
    strongest = float((texture * passed).max())
    if strongest == 0.0:
        return np.zeros(power.size), np.zeros(power.size), noise
    texture = texture / strongest
    density = density / strongest
    share = passed * texture / np.where(density > 0.0, density, 1.0)
    ordinates = np.arange(power.size)
    flat = np.interp(ordinates, middle, np.sqrt(share / (density + FLOOR)))
    return flat, np.interp(ordinates, middle, np.sqrt(share)), noise


def _noise_passed(frequency: Floats, points_per_bin: float) -> Floats:
    """Share of white noise that bin means of straight lines between points leave.

    ``frequency`` is in cycles per bin.  Straight lines pass sinc^2, bins sinc, in amplitude; what
    lies above the grid's highest frequency is folded back.
    """
    folded = frequency[:, None] + np.arange(-4, 5)
    passed: Floats = (np.sinc(folded / points_per_bin) ** 4 * np.sinc(folded) ** 2).sum(axis=1)
    return passed
