"""A round plate in polynomials: what its stiffness, its stretching and its loads are made of.

Reduced units: lengths in the wafer's radius R, heights in its thickness h_s, stiffness in the mean
biaxial modulus M, energy in M h_s^5/R^2.  A spherical shape of K = kappa R^2/(4 h_s) then has the
height 2 K r^2, and a film of S = 3 N R^2/(2 M h_s^3) acts as the moment S/3.

Heights are products of Legendre polynomials of x and of y.  The Airy function of the in-plane
forces is (1 - r^2)^2 times such a polynomial, which frees the rim of force.  All integrals over the
disc are exact.  Without three points beneath it, the wafer looks the same after half a turn, and
polynomials of even degree suffice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.physics.elasticity import isotropic_equivalent

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

# Degrees of the heights and of the factor of the Airy function.  Even shapes up to 12 leave 5e-6
# of S at S = 1; all shapes up to 10 leave 1e-3 of the force where three points carry 300 mm.
_EVEN_DEGREES, _ALL_DEGREES = (12, 8), (10, 6)
_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))


@dataclass(frozen=True, slots=True)
class Shapes:
    """Heights of a plate, and the integrals over the disc that no material enters.

    Attributes
    ----------
    degrees : ndarray of int, shape (2, n)
        Of x and y in each height.
    film : ndarray, shape (n,)
        Of the heights' curvature xx + yy.
    weight : ndarray, shape (n,)
        Of the heights.
    sphere : ndarray, shape (n,)
        Coefficients of the height 2 r^2 (K = 1), but for a constant.
    bending : ndarray, shape (6, n, n)
        Of products of the curvatures (xx, yy, 2xy), by pairs.
    stretching : ndarray, shape (6, m, m)
        Of products of the in-plane forces (xx, yy, xy), by pairs.
    gauss : ndarray, shape (m, n, n)
        Of an Airy function times the Gaussian curvature of two heights.
    """

    degrees: Indices
    film: Floats
    weight: Floats
    sphere: Floats
    bending: Floats
    stretching: Floats
    gauss: Floats

    def heights(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Heights at points of the disc, shape (points, n)."""
        i, j = self.degrees
        highest = int(i.max())
        return _legendre(x, highest)[0][:, i] * _legendre(y, highest)[0][:, j]


@dataclass(frozen=True, slots=True)
class RoundPlate:
    """A plate of given stiffness: bending (n, n), and the inverse of stretching (m, m)."""

    shapes: Shapes
    bending: Floats
    membrane: Floats


def round_plate(reduced_pa: ArrayLike, *, even: bool) -> RoundPlate:
    """Plate of stiffness Q [Pa], shape (3, 3), in its axes x and y, in all or even shapes."""
    q = np.asarray(reduced_pa, dtype=np.float64) / sum(isotropic_equivalent(reduced_pa))
    compliance: Floats = np.asarray(np.linalg.inv(q), dtype=np.float64)
    parts = shapes(even)
    bending = np.tensordot(_by_pairs(q), parts.bending, 1) / 12.0
    stretching = np.tensordot(_by_pairs(compliance), parts.stretching, 1)
    return RoundPlate(parts, bending, np.asarray(np.linalg.inv(stretching), dtype=np.float64))


@lru_cache(maxsize=2)
def shapes(even: bool) -> Shapes:
    """Shapes and their integrals, computed once."""
    highest, highest_airy = _EVEN_DEGREES if even else _ALL_DEGREES
    step = 2 if even else 1
    x, y, area = _disc(2 * (highest - 2) + highest_airy + 4)
    px, py = _legendre(x, highest), _legendre(y, highest)

    def products(degrees: Indices, *derivatives: tuple[int, int]) -> list[Floats]:
        i, j = degrees
        return [px[a][:, i] * py[b][:, j] for a, b in derivatives]

    degrees = _degrees(2, highest, step)
    value, xx, yy, xy = products(degrees, (0, 0), (2, 0), (0, 2), (1, 1))
    airy, *forces = _airy(
        x,
        y,
        products(_degrees(0, highest_airy, step), (0, 0), (1, 0), (0, 1), (2, 0), (0, 2), (1, 1)),
    )
    # xx yy - xy^2 as a bilinear form; its two halves of the first product mirror each other.
    n, weighted = xx.shape[1], (airy * area[:, None]).T
    half, twist = (
        (weighted @ (a[:, :, None] * b[:, None, :]).reshape(len(x), -1)).reshape(-1, n, n)
        for a, b in ((xx, yy), (xy, xy))
    )
    return Shapes(
        degrees=degrees,
        film=area @ (xx + yy),
        weight=area @ value,
        sphere=_sphere(degrees),
        bending=_pair_integrals((xx, yy, 2.0 * xy), area),
        stretching=_pair_integrals(forces, area),
        gauss=0.5 * (half + half.transpose(0, 2, 1)) - twist,
    )


def _airy(x: Floats, y: Floats, factor: Sequence[Floats]) -> tuple[Floats, Floats, Floats, Floats]:
    """(1 - r^2)^2 f and its forces (F_yy, F_xx, -F_xy) from f, f_x, f_y, f_xx, f_yy, f_xy."""
    x, y = x[:, None], y[:, None]
    f, fx, fy, fxx, fyy, fxy = factor
    rest = 1.0 - x**2 - y**2
    edge, gx, gy = rest**2, -4.0 * x * rest, -4.0 * y * rest
    return (
        edge * f,
        edge * fyy + 2.0 * gy * fy + (8.0 * y**2 - 4.0 * rest) * f,
        edge * fxx + 2.0 * gx * fx + (8.0 * x**2 - 4.0 * rest) * f,
        -(edge * fxy + gx * fy + gy * fx + 8.0 * x * y * f),
    )


def _by_pairs(matrix: Floats) -> Floats:
    return np.array([matrix[a, b] for a, b in _PAIRS])


def _pair_integrals(fields: Sequence[Floats], area: Floats) -> Floats:
    """Integrals of a b, and of a b + b a off the diagonal."""
    found = []
    for a, b in _PAIRS:
        product = (fields[a] * area[:, None]).T @ fields[b]
        found.append(product if a == b else product + product.T)
    return np.array(found)


def _sphere(degrees: Indices) -> Floats:
    # x^2 = (2 P_2 + 1)/3
    return np.where((degrees.sum(axis=0) == 2) & (degrees.max(axis=0) == 2), 4.0 / 3.0, 0.0)


def _degrees(lowest: int, highest: int, step: int) -> Indices:
    totals = range(lowest, highest + 1, step)
    return np.array([(i, total - i) for total in totals for i in range(total + 1)]).T


def _legendre(at: ArrayLike, highest: int) -> tuple[Floats, Floats, Floats]:
    """Legendre polynomials and their first two derivatives, each of shape (points, degree + 1)."""
    x = np.asarray(at, dtype=np.float64)
    vander = np.asarray(np.polynomial.legendre.legvander(x, highest), dtype=np.float64)
    one = np.eye(highest + 1)
    first, second = (np.polynomial.legendre.legder(one, order) for order in (1, 2))
    return vander, vander[:, :-1] @ first, vander[:, :-2] @ second


def _disc(degree: int) -> tuple[Floats, Floats, Floats]:
    """Points of the unit disc and their areas, exact for polynomials up to a degree."""
    nodes, weights = np.polynomial.legendre.leggauss(degree // 4 + 1)
    radii, count = np.sqrt(0.5 * (nodes + 1.0)), degree + 1
    angles = 2.0 * np.pi * np.arange(count) / count
    x, y = np.outer(radii, np.cos(angles)), np.outer(radii, np.sin(angles))
    return x.ravel(), y.ravel(), np.repeat(0.5 * weights * np.pi / count, count)
