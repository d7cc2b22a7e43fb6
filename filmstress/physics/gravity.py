"""Sag of a wafer under its own weight, on the supports a stage offers.

Thin isotropic plate of radius R, small deflections, weight q = rho g h_s per area.  Heights are in
units of q R^4/D, lengths in R, z up.  A crystal is replaced by its isotropic equivalent: a full
anisotropic solution differs by 0.03 % (rim) to about 1 % (point supports) on Si(001).

With the same support for both scans the sag cancels in their difference while deflections are
small; where the support changes between them, it does not (`flip_curvature`).

References
----------
S. Timoshenko and S. Woinowsky-Krieger, Theory of Plates and Shells (1959), chapters 3 and 9; the
three-point solution is the free-edge plate under point forces in a Fourier series, derived here.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import SubstrateError
from filmstress.physics.elasticity import isotropic_equivalent

Floats = NDArray[np.float64]

STANDARD_GRAVITY = 9.80665  # m/s^2, exact (CGPM 1901)

# The harmonics fall off with the third power; these leave 4e-6 of a height, 1e-6 of a fit.
_HARMONICS = np.arange(3, 603, 3, dtype=np.float64)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(96)
# Weights of the second derivative of the parabola fitted on -1..1 by least squares.
_FIT = 7.5 * _WEIGHTS * (1.5 * _NODES**2 - 0.5)


def unit_heights(
    support: str,
    positions: ArrayLike,
    *,
    poisson_ratio: float,
    support_radius: float = 1.0,
    azimuth_rad: float = 0.0,
) -> Floats:
    """Heights of the sagged plate along a diameter, above the support [q R^4/D].

    Parameters
    ----------
    support : str
        "rim" (supported all around), "centre" (one point) or "three-points" (equally spaced).
    positions : array_like, shape (n,)
        Signed distance from the centre along the line [R], -1 to 1.
    poisson_ratio : float
        Of the plate [1].
    support_radius : float
        Of the three points [R].
    azimuth_rad : float
        Of the line, from one of the three points [rad].

    Raises
    ------
    SubstrateError
        If the support is none of these, or the points are not on the wafer.
    """
    x = np.asarray(positions, dtype=np.float64)
    if support == "rim":
        return _even(np.abs(x), poisson_ratio) - _even(np.array(1.0), poisson_ratio)
    if support == "centre":
        r = np.abs(x)
        # An upward point force q pi R^2 at the centre, and the moment that it leaves at the rim.
        log = np.where(r > 0.0, r**2 * np.log(np.where(r > 0.0, r, 1.0)), 0.0)
        bend = 0.125 * (3.0 + poisson_ratio) / (2.0 * (1.0 + poisson_ratio))
        return _even(r, poisson_ratio) + 0.125 * log - bend * r**2
    if support != "three-points":
        raise SubstrateError(
            f"the sag on the support '{support}' is not known",
            hint="it is known for rim, centre and three-points",
        )
    if not 0.0 < support_radius <= 1.0:
        raise SubstrateError(
            f"three points at {support_radius:g} of the wafer's radius do not carry it",
            hint="the support radius lies between 0 and the wafer's radius",
        )
    angle = np.where(x < 0.0, azimuth_rad + math.pi, azimuth_rad)
    field = _three_points(np.abs(x), angle, support_radius, poisson_ratio)
    at_support = _three_points(
        np.array([support_radius]), np.array([0.0]), support_radius, poisson_ratio
    )
    return field - at_support


def sag_scale(
    *,
    density_kg_per_m3: float,
    thickness_m: float,
    wafer_radius_m: float,
    reduced_pa: ArrayLike,
) -> float:
    """Unit q R^4/D of `unit_heights` [m].

    Parameters
    ----------
    density_kg_per_m3, thickness_m, wafer_radius_m : float
        Of the wafer.
    reduced_pa : array_like, shape (3, 3)
        Q [Pa]; D = Q11 h^3/12 with Q11 of its isotropic equivalent.
    """
    q11, _ = isotropic_equivalent(reduced_pa)
    load = density_kg_per_m3 * STANDARD_GRAVITY * thickness_m
    return load * wafer_radius_m**4 * 12.0 / (q11 * thickness_m**3)


def fit_curvature(
    support: str,
    *,
    density_kg_per_m3: float,
    thickness_m: float,
    wafer_radius_m: float,
    reduced_pa: ArrayLike,
    window_low_m: float | None = None,
    window_high_m: float | None = None,
    support_radius_m: float | None = None,
    azimuth_rad: float = 0.0,
) -> float:
    """Curvature [1/m] that gravity adds to a parabola fitted along a diameter.

    Parameters
    ----------
    support, azimuth_rad
        As in `unit_heights`.
    density_kg_per_m3, thickness_m, wafer_radius_m, reduced_pa
        As in `sag_scale`.
    window_low_m, window_high_m : float or None
        Ends of the fitted part from the wafer's centre [m], sampled evenly; None is the rim.
    support_radius_m : float or None
        Of the three points [m]; None is the rim.

    Raises
    ------
    SubstrateError
        As in `unit_heights`.
    """
    q11, q12 = isotropic_equivalent(reduced_pa)
    low = -1.0 if window_low_m is None else window_low_m / wafer_radius_m
    high = 1.0 if window_high_m is None else window_high_m / wafer_radius_m
    half = 0.5 * (high - low)
    heights = unit_heights(
        support,
        0.5 * (low + high) + half * _NODES,
        poisson_ratio=q12 / q11,
        support_radius=1.0 if support_radius_m is None else support_radius_m / wafer_radius_m,
        azimuth_rad=azimuth_rad,
    )
    scale = sag_scale(
        density_kg_per_m3=density_kg_per_m3,
        thickness_m=thickness_m,
        wafer_radius_m=wafer_radius_m,
        reduced_pa=reduced_pa,
    )
    return float(_FIT @ heights) * scale / (half * wafer_radius_m) ** 2


def flip_curvature(
    *,
    density_kg_per_m3: float,
    thickness_m: float,
    wafer_radius_m: float,
    reduced_pa: ArrayLike,
    window_low_m: float | None = None,
    window_high_m: float | None = None,
) -> float:
    """Most that a loose wafer's curvature change is underestimated if dome and bowl swap [1/m].

    On a flat stage a dome rests on its rim and a bowl near its centre; the bound takes the bowl's
    contact for a point.  Over the full diameter it is (q R^2/(8 D)) [(3 + nu)/(1 + nu) + 1/15].
    As a film force it does not depend on the wafer's thickness or modulus.  Arguments as in
    `fit_curvature`.
    """
    rim, centre = (
        fit_curvature(
            support,
            density_kg_per_m3=density_kg_per_m3,
            thickness_m=thickness_m,
            wafer_radius_m=wafer_radius_m,
            reduced_pa=reduced_pa,
            window_low_m=window_low_m,
            window_high_m=window_high_m,
        )
        for support in ("rim", "centre")
    )
    return rim - centre


def _even(r: Floats, nu: float) -> Floats:
    """Plate under its weight with a moment-free rim, zero at the centre: rim support."""
    return (3.0 + nu) / (32.0 * (1.0 + nu)) * r**2 - r**4 / 64.0


def _three_points(r: Floats, theta: Floats, b: float, nu: float) -> Floats:
    """Free plate under its weight and three upward forces q pi R^2/3 at radius b.

    The forces act on an infinite plate as (P/(8 pi D)) rho^2 ln rho, expanded in cos(n theta) about
    the centre; n = 3, 6, ... remain.  Regular terms r^n and r^(n+2) free the rim of moment and of
    Kirchhoff's shear.
    """
    outer, inner = np.maximum(r, b), np.minimum(r, b)
    ring = (r**2 + b**2) * np.log(outer) + inner**2
    rim_moment = (3.0 - b**2 + nu * (1.0 + b**2)) / 8.0 - (3.0 + nu) / 16.0
    mean = ring / 8.0 - r**4 / 64.0 - rim_moment / (2.0 * (1.0 + nu)) * r**2

    n = _HARMONICS
    # Free-plate field beyond b: near r^(2-n) + far r^(-n).
    near, far = b**n / (n * (n - 1.0)), -(b ** (n + 2.0)) / (n * (n + 1.0))
    moments = [_moment(power, n, nu) for power in (n, n + 2.0, 2.0 - n, -n)]
    shears = [_shear(power, n, nu) for power in (n, n + 2.0, 2.0 - n, -n)]
    moment = near * moments[2] + far * moments[3]
    shear = near * shears[2] + far * shears[3]
    determinant = moments[0] * shears[1] - moments[1] * shears[0]
    first = (moments[1] * shear - shears[1] * moment) / determinant
    second = (shears[0] * moment - moments[0] * shear) / determinant

    ratio, rr = (inner / outer)[:, None], r[:, None]
    free = -(rr**2 + b**2) * ratio**n / n + rr * b * (
        ratio ** (n - 1.0) / (n - 1.0) + ratio ** (n + 1.0) / (n + 1.0)
    )
    waves = free + (first + second * rr**2) * rr**n
    heights: Floats = mean + np.sum(waves * np.cos(n * theta[:, None]), axis=1) / 8.0
    return heights


def _moment(power: Floats, n: Floats, nu: float) -> Floats:
    """Radial moment of r^power cos(n theta) at r = 1, over -D."""
    return power * (power - 1.0) + nu * (power - n**2)


def _shear(power: Floats, n: Floats, nu: float) -> Floats:
    """Kirchhoff shear of r^power cos(n theta) at r = 1, over -D."""
    return (power**2 - n**2) * (power - 2.0) - (1.0 - nu) * n**2 * (power - 1.0)
