"""A round plate on a support: its weight as a load, and what a fitted parabola reads of its shape.

The polynomials of `filmstress.physics.round_plate` round off the tips of point supports, but they
know a crystal's directions; the closed forms of `filmstress.physics.gravity` do the opposite.
`fit_curvature` takes from each what it does well.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from filmstress.physics import gravity
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.physics.round_plate import Floats, round_plate, shapes

# Points that stand for a ring: more than the highest harmonic of the shapes.
_RING = 32
# Stiff against the plate, whose own stiffness is 1/12, and soft enough for the arithmetic.
_RING_STIFFNESS = 1e4


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
    """

    reduced_load: float
    support_radius: float
    points_azimuth_rad: float | None = None

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
def weight_load(weight: Weight) -> Floats:
    """Weight down and what carries it up, per unit of each shape's height, shape (n,)."""
    parts = shapes(weight.even)
    carried = _on_support(weight).mean(axis=0)
    load = np.asarray(weight.reduced_load * (np.pi * carried - parts.weight), dtype=np.float64)
    load.setflags(write=False)
    return load


@lru_cache(maxsize=64)
def holding(weight: Weight) -> Floats:
    """Stiffness of a ring that keeps the plate on it level, shape (n, n).

    A crystal pushes harder on some parts of a ring than on others; three points carry a third each
    whatever it does.
    """
    if not weight.even:
        return np.zeros((len(weight_load(weight)),) * 2)
    heights = _on_support(weight)
    uneven = heights - heights.mean(axis=0)
    stiffness = np.asarray(_RING_STIFFNESS * uneven.T @ uneven, dtype=np.float64)
    stiffness.setflags(write=False)
    return stiffness


def _on_support(weight: Weight) -> Floats:
    """Heights of the shapes over the points of a support."""
    first, count = weight.points_azimuth_rad, 3
    if first is None:
        first, count = 0.0, _RING
    angles = first + 2.0 * np.pi * np.arange(count) / count
    radius = weight.support_radius
    return shapes(weight.even).heights(radius * np.cos(angles), radius * np.sin(angles))


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
        is changed by what the crystal's directions change: up to 2 % on Si(001).

    Raises
    ------
    SubstrateError
        As there.
    """
    isotropic = gravity.fit_curvature(
        support,
        density_kg_per_m3=density_kg_per_m3,
        thickness_m=thickness_m,
        wafer_radius_m=wafer_radius_m,
        reduced_pa=reduced_pa,
        window_low_m=window_low_m,
        window_high_m=window_high_m,
        support_radius_m=support_radius_m,
        azimuth_rad=azimuth_rad,
    )
    load = reduced_load(
        density_kg_per_m3=density_kg_per_m3,
        thickness_m=thickness_m,
        wafer_radius_m=wafer_radius_m,
        reduced_pa=reduced_pa,
    )
    radius = 1.0 if support_radius_m is None else support_radius_m / wafer_radius_m
    weight = {
        "rim": Weight(load, 1.0),
        "centre": Weight(load, 0.0),
        "three-points": Weight(load, radius, -azimuth_rad),
    }[support]
    low = -1.0 if window_low_m is None else window_low_m / wafer_radius_m
    high = 1.0 if window_high_m is None else window_high_m / wafer_radius_m
    row = fit_row(low, high, even=weight.even)
    held, carried = holding(weight), weight_load(weight)
    crystal, equivalent = (
        float(row @ np.linalg.solve(round_plate(q, even=weight.even).bending + held, carried))
        for q in (reduced_pa, _equivalent(reduced_pa))
    )
    return isotropic + (crystal - equivalent) * 4.0 * thickness_m / wafer_radius_m**2


def _equivalent(reduced_pa: ArrayLike) -> Floats:
    q11, q12 = isotropic_equivalent(reduced_pa)
    return np.array([[q11, q12, 0.0], [q12, q11, 0.0], [0.0, 0.0, 0.5 * (q11 - q12)]])
