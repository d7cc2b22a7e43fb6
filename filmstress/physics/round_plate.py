"""A round plate in polynomials: what its stiffness, its stretching and its loads are made of.

Reduced units: lengths in the wafer's radius R, heights in its thickness h_s, stiffness in the mean
biaxial modulus M, energy in M h_s^5/R^2.  A spherical shape of K = kappa R^2/(4 h_s) then has the
height 2 K r^2, and a film of S = 3 N R^2/(2 M h_s^3) acts as the moment S/3.

Heights are products of Legendre polynomials of x and of y, of even total degree: shapes that look
the same turned by half a turn.  The Airy function of the in-plane forces is (1 - r^2)^2 times such
a polynomial, which frees the rim of force.  All integrals over the disc are exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.physics.elasticity import isotropic_equivalent

Floats = NDArray[np.float64]

# Degrees of the heights and of the factor of the Airy function.
_HEIGHT_DEGREE, _AIRY_DEGREE = 12, 8
_PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))


@dataclass(frozen=True, slots=True)
class Shapes:
    """Integrals over the disc that no material enters.

    Attributes
    ----------
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

    film: Floats
    weight: Floats
    sphere: Floats
    bending: Floats
    stretching: Floats
    gauss: Floats


@dataclass(frozen=True, slots=True)
class RoundPlate:
    """A plate of given stiffness: bending (n, n), and the inverse of stretching (m, m)."""

    bending: Floats
    membrane: Floats


def round_plate(reduced_pa: ArrayLike) -> RoundPlate:
    """Plate of stiffness Q [Pa], shape (3, 3), in its axes x and y."""
    q = np.asarray(reduced_pa, dtype=np.float64) / sum(isotropic_equivalent(reduced_pa))
    parts = shapes()
    stretching = np.tensordot(_by_pairs(np.linalg.inv(q)), parts.stretching, 1)
    bending = np.tensordot(_by_pairs(q), parts.bending, 1) / 12.0
    return RoundPlate(bending, np.linalg.inv(stretching))


def height_values(x: ArrayLike, y: ArrayLike) -> Floats:
    """Heights of all shapes at points of the disc, shape (points, n)."""
    return _products(_legendre(x)[0], _legendre(y)[0], *_degrees(_HEIGHT_DEGREE, 2))


@lru_cache(maxsize=1)
def shapes() -> Shapes:
    """The integrals, computed once."""
    x, y, area = _disc()
    px, py = _legendre(x), _legendre(y)
    i, j = _degrees(_HEIGHT_DEGREE, 2)
    xx, yy, xy = (_products(px[a], py[b], i, j) for a, b in ((2, 0), (0, 2), (1, 1)))
    curvatures = (xx, yy, 2.0 * xy)

    i, j = _degrees(_AIRY_DEGREE, 0)
    rest = 1.0 - x**2 - y**2
    f, fx, fy, fxx, fyy, fxy = (
        _products(px[a], py[b], i, j)
        for a, b in ((0, 0), (1, 0), (0, 1), (2, 0), (0, 2), (1, 1))
    )
    edge, gx, gy = ((rest**2)[:, None], (-4.0 * x * rest)[:, None], (-4.0 * y * rest)[:, None])
    gxx, gyy = (8.0 * x**2 - 4.0 * rest)[:, None], (8.0 * y**2 - 4.0 * rest)[:, None]
    gxy = (8.0 * x * y)[:, None]
    forces = (
        edge * fyy + 2.0 * gy * fy + gyy * f,
        edge * fxx + 2.0 * gx * fx + gxx * f,
        -(edge * fxy + gx * fy + gy * fx + gxy * f),
    )
    weighted = (edge * f * area[:, None]).T
    # xx yy - xy^2 as a bilinear form; its two halves of the first product are each other's mirror.
    n = xx.shape[1]
    half = weighted @ (xx[:, :, None] * yy[:, None, :]).reshape(len(x), -1)
    twist = weighted @ (xy[:, :, None] * xy[:, None, :]).reshape(len(x), -1)
    half, twist = half.reshape(-1, n, n), twist.reshape(-1, n, n)
    return Shapes(
        film=area @ (xx + yy),
        weight=area @ height_values(x, y),
        sphere=_sphere(),
        bending=_pair_integrals(curvatures, area),
        stretching=_pair_integrals(forces, area),
        gauss=0.5 * (half + half.transpose(0, 2, 1)) - twist,
    )


def _by_pairs(matrix: Floats) -> Floats:
    return np.array([matrix[a, b] for a, b in _PAIRS])


def _pair_integrals(fields: tuple[Floats, Floats, Floats], area: Floats) -> Floats:
    """Integrals of a b, and of a b + b a off the diagonal."""
    found = []
    for a, b in _PAIRS:
        product = (fields[a] * area[:, None]).T @ fields[b]
        found.append(product if a == b else product + product.T)
    return np.array(found)


def _sphere() -> Floats:
    # x^2 = (2 P_2 + 1)/3
    i, j = _degrees(_HEIGHT_DEGREE, 2)
    return np.where(np.maximum(i, j) == 2, np.where(i + j == 2, 4.0 / 3.0, 0.0), 0.0)


def _degrees(highest: int, lowest: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    pairs = [
        (i, total - i) for total in range(lowest, highest + 1, 2) for i in range(total + 1)
    ]
    i, j = np.array(pairs).T
    return i, j


def _products(
    px: Floats, py: Floats, i: NDArray[np.int64], j: NDArray[np.int64]
) -> Floats:
    return px[:, i] * py[:, j]


def _legendre(at: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Legendre polynomials and their first two derivatives, each of shape (points, degree + 1)."""
    vander = np.polynomial.legendre.legvander(np.asarray(at, dtype=np.float64), _HEIGHT_DEGREE)
    one = np.eye(_HEIGHT_DEGREE + 1)
    first = np.polynomial.legendre.legder(one)
    second = np.polynomial.legendre.legder(one, 2)
    return vander, vander[:, :-1] @ first, vander[:, :-2] @ second


def _disc() -> tuple[Floats, Floats, Floats]:
    """Points of half the disc, and their weights, doubled: exact for all that is integrated."""
    degree = 2 * (_HEIGHT_DEGREE - 2) + _AIRY_DEGREE + 4
    nodes, weights = np.polynomial.legendre.leggauss(degree // 4 + 1)
    radii = np.sqrt(0.5 * (nodes + 1.0))
    count = degree // 2 + 1
    angles = np.pi * np.arange(count) / count
    area = np.repeat(0.5 * weights * np.pi / count, count)
    return np.outer(radii, np.cos(angles)).ravel(), np.outer(radii, np.sin(angles)).ravel(), area
