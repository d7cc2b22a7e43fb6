"""A round plate on a support: its weight as a load, and what a fitted parabola reads of its shape.

The polynomials of `filmstress.physics.round_plate` round off the tips of point supports, but they
know a crystal's directions; the closed forms of `filmstress.physics.gravity` do the opposite.
`sag_fit` takes from each what it does well.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import SubstrateError
from filmstress.physics import gravity
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.physics.round_plate import Floats, round_plate, shapes

# Points that stand for a ring: more than the highest harmonic of the shapes.
_RING = 32
# Stiff against the plate, whose own stiffness is 1/12, and soft enough for the arithmetic.
_RING_STIFFNESS = 1e3


@dataclass(frozen=True, slots=True)
class Weight:
    """The wafer's own weight on a support.

    Attributes
    ----------
    reduced_load : float
        q R^4/(M h_s^4) [1], see `reduced_load`.
    support_radius : float
        Of the ring or the points that carry it [R]: 1 rim, 0 centre.
    points_azimuth_rad : float or None
        Of one of three equally spaced points, from the scan [rad]; None is a ring.
    level : bool
        Whether a ring keeps the plate on it level all around; else it carries every part alike,
        as far as the plate may lift off.
    """

    reduced_load: float
    support_radius: float
    points_azimuth_rad: float | None = None
    level: bool = True

    @property
    def even(self) -> bool:
        """Whether the support is the same after half a turn."""
        return self.points_azimuth_rad is None


def reduced_load(
    *,
    density_kg_per_m3: float,
    thickness_m: float,
    wafer_radius_m: float,
    reduced_pa: ArrayLike,
) -> float:
    """Weight per area over the plate's stiffness, q R^4/(M h_s^4) with q = rho g h_s [1].

    Parameters
    ----------
    density_kg_per_m3, thickness_m, wafer_radius_m : float
        Of the wafer.
    reduced_pa : array_like, shape (3, 3)
        Q [Pa], for the mean biaxial modulus M.
    """
    modulus = sum(isotropic_equivalent(reduced_pa))
    weight = density_kg_per_m3 * gravity.STANDARD_GRAVITY
    return weight * wafer_radius_m**4 / (modulus * thickness_m**3)


@lru_cache(maxsize=64)
def weight_load(weight: Weight, *, even: bool) -> Floats:
    """Weight down and what carries it up, per unit of each shape's height, shape (n,)."""
    parts = shapes(even)
    carried = _on_support(weight, even=even).mean(axis=0)
    load = np.asarray(weight.reduced_load * (np.pi * carried - parts.weight), dtype=np.float64)
    load.setflags(write=False)
    return load


@lru_cache(maxsize=64)
def holding(weight: Weight, *, even: bool) -> Floats:
    """Stiffness of a ring that keeps the plate on it level, shape (n, n).

    A crystal pushes harder on some parts of a ring than on others; three points carry a third each
    whatever it does.
    """
    heights = _on_support(weight, even=even)
    if not (weight.even and weight.level):
        return np.zeros((heights.shape[1],) * 2)
    uneven = heights - heights.mean(axis=0)
    stiffness = np.asarray(_RING_STIFFNESS * uneven.T @ uneven, dtype=np.float64)
    stiffness.setflags(write=False)
    return stiffness


def _on_support(weight: Weight, *, even: bool) -> Floats:
    """Heights of the shapes over the points of a support."""
    first, count = weight.points_azimuth_rad, 3
    if first is None:
        first, count = 0.0, _RING
    angles = first + 2.0 * np.pi * np.arange(count) / count
    radius = weight.support_radius
    return shapes(even).heights(radius * np.cos(angles), radius * np.sin(angles))


@lru_cache(maxsize=64)
def fit_row(low: float, high: float, *, even: bool) -> Floats:
    """Weights of the shapes in K of the parabola fitted along x, evenly from low to high [R]."""
    nodes, weights = np.polynomial.legendre.leggauss(12)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    second = 7.5 * weights * (1.5 * nodes**2 - 0.5) / half**2
    x = middle + half * nodes
    values = shapes(even).heights(x, np.zeros_like(x))
    row = np.asarray(second @ values / 4.0, dtype=np.float64)
    row.setflags(write=False)
    return row


def sag_fit(
    weight: Weight, *, window_low: float, window_high: float, reduced_pa: ArrayLike
) -> float:
    """K that the weight adds to a parabola fitted along axis x, on the linear plate [1].

    Parameters
    ----------
    weight : Weight
        On the rim, a centre point or three points; on any other ring point-like detail is lost.
    window_low, window_high : float
        Ends of the fitted part [R].
    reduced_pa : array_like, shape (3, 3)
        Q with axis x along the scan [Pa].
    """
    row = fit_row(window_low, window_high, even=weight.even)
    held, load = holding(weight, even=weight.even), weight_load(weight, even=weight.even)

    def polynomial(q: ArrayLike) -> float:
        bending = round_plate(q, even=weight.even).bending + held
        return float(row @ np.linalg.solve(bending, load))

    kind = _closed_form(weight)
    if kind is None:
        return polynomial(reduced_pa)
    # Reduced units are those of a wafer of radius and thickness 1.
    modulus = sum(isotropic_equivalent(reduced_pa))
    closed = gravity.fit_curvature(
        kind,
        density_kg_per_m3=weight.reduced_load * modulus / gravity.STANDARD_GRAVITY,
        thickness_m=1.0,
        wafer_radius_m=1.0,
        reduced_pa=reduced_pa,
        window_low_m=window_low,
        window_high_m=window_high,
        support_radius_m=weight.support_radius if kind == "three-points" else None,
        azimuth_rad=-(weight.points_azimuth_rad or 0.0),
    )
    return closed / 4.0 + polynomial(reduced_pa) - polynomial(_equivalent(reduced_pa))


def _closed_form(weight: Weight) -> str | None:
    if weight.points_azimuth_rad is not None:
        return "three-points"
    return {1.0: "rim", 0.0: "centre"}.get(weight.support_radius)


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
    """Curvature [1/m] that gravity adds to a parabola fitted along a diameter of a crystal.

    Parameters
    ----------
    reduced_pa : array_like, shape (3, 3)
        Q with axis x along the scan [Pa].
    support, density_kg_per_m3, thickness_m, wafer_radius_m, window_low_m, window_high_m, \
support_radius_m, azimuth_rad
        As in `filmstress.physics.gravity.fit_curvature`, whose result for the isotropic equivalent
        is changed by what the crystal's directions change: on Si(001) by up to 2 % of
        q R^2/(8 D) on three points and 5 % on one, on Si(110) by 10 to 30 %.

    Raises
    ------
    SubstrateError
        If the support is none of these, or the points are not on the wafer.
    """
    if support not in ("rim", "centre", "three-points"):
        raise SubstrateError(
            f"the sag on the support '{support}' is not known",
            hint="it is known for rim, centre and three-points",
        )
    load = reduced_load(
        density_kg_per_m3=density_kg_per_m3,
        thickness_m=thickness_m,
        wafer_radius_m=wafer_radius_m,
        reduced_pa=reduced_pa,
    )
    if support == "three-points":
        radius = 1.0 if support_radius_m is None else support_radius_m / wafer_radius_m
        weight = Weight(load, radius, -azimuth_rad)
    else:
        weight = Weight(load, 1.0 if support == "rim" else 0.0)
    reading = sag_fit(
        weight,
        window_low=-1.0 if window_low_m is None else window_low_m / wafer_radius_m,
        window_high=1.0 if window_high_m is None else window_high_m / wafer_radius_m,
        reduced_pa=reduced_pa,
    )
    return reading * 4.0 * thickness_m / wafer_radius_m**2


def sag_heights(
    support: str,
    positions_m: ArrayLike,
    *,
    density_kg_per_m3: float,
    thickness_m: float,
    wafer_radius_m: float,
    reduced_pa: ArrayLike,
    support_radius_m: float | None = None,
    azimuth_rad: float = 0.0,
) -> Floats:
    """Heights [m] of a crystal's sag along a diameter, above the support but for a constant.

    Parameters
    ----------
    positions_m : array_like, shape (n,)
        Signed distance from the centre along axis x [m].
    support, density_kg_per_m3, thickness_m, wafer_radius_m, reduced_pa, support_radius_m, \
azimuth_rad
        As in `fit_curvature`.

    Raises
    ------
    SubstrateError
        If the support is not known, or the points are not on the wafer.
    """
    x = np.asarray(positions_m, dtype=np.float64) / wafer_radius_m
    size = {
        "density_kg_per_m3": density_kg_per_m3,
        "thickness_m": thickness_m,
        "wafer_radius_m": wafer_radius_m,
    }
    radius = 1.0 if support_radius_m is None else support_radius_m / wafer_radius_m
    q11, q12 = isotropic_equivalent(reduced_pa)
    closed = gravity.sag_scale(**size, reduced_pa=reduced_pa) * gravity.unit_heights(
        support, x, poisson_ratio=q12 / q11, support_radius=radius, azimuth_rad=azimuth_rad
    )
    load = reduced_load(**size, reduced_pa=reduced_pa)
    if support == "three-points":
        weight = Weight(load, radius, -azimuth_rad)
    else:
        weight = Weight(load, 1.0 if support == "rim" else 0.0)

    def polynomial(q: ArrayLike) -> Floats:
        bending = round_plate(q, even=weight.even).bending + holding(weight, even=weight.even)
        shape = np.linalg.solve(bending, weight_load(weight, even=weight.even))
        return shapes(weight.even).heights(x, np.zeros_like(x)) @ shape

    crystal = polynomial(reduced_pa) - polynomial(_equivalent(reduced_pa))
    return np.asarray(closed + thickness_m * crystal)


def _equivalent(reduced_pa: ArrayLike) -> Floats:
    q11, q12 = isotropic_equivalent(reduced_pa)
    return np.array([[q11, q12, 0.0], [q12, q11, 0.0], [0.0, 0.0, 0.5 * (q11 - q12)]])
