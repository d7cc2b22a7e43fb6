"""From crystal constants to the plane-stress stiffness of a wafer's cut.

Conventions: Voigt order 11, 22, 33, 23, 13, 12 with engineering shear strains; in-plane vectors
(xx, yy, xy), so the curvature vector is (kappa_xx, kappa_yy, 2 kappa_xy).  Crystal Cartesian axes
are X along a1, Z along c, Y = Z x X (cubic: along the cell edges).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import SubstrateError

Floats = NDArray[np.float64]

IN_PLANE, OUT_OF_PLANE = np.array([0, 1, 5]), np.array([2, 3, 4])
EQUIBIAXIAL = np.array([1.0, 1.0, 0.0])
# Tensor indices of the Voigt indices, and which of them are shears.
_FIRST, _SECOND = np.array([0, 1, 2, 1, 0, 0]), np.array([0, 1, 2, 2, 2, 1])
_SHEAR = (_FIRST != _SECOND).astype(np.float64)

# Where each constant stands in the 6x6 matrix (upper half), and with which factor.
# c66 = (c11 - c12)/2 in hexagonal and trigonal crystals.
_HEXAGONAL: dict[str, tuple[tuple[int, int, float], ...]] = {
    "c11": ((0, 0, 1.0), (1, 1, 1.0), (5, 5, 0.5)),
    "c12": ((0, 1, 1.0), (5, 5, -0.5)),
    "c13": ((0, 2, 1.0), (1, 2, 1.0)),
    "c33": ((2, 2, 1.0),),
    "c44": ((3, 3, 1.0), (4, 4, 1.0)),
}
_PLACES: dict[str, dict[str, tuple[tuple[int, int, float], ...]]] = {
    "cubic": {
        "c11": ((0, 0, 1.0), (1, 1, 1.0), (2, 2, 1.0)),
        "c12": ((0, 1, 1.0), (0, 2, 1.0), (1, 2, 1.0)),
        "c44": ((3, 3, 1.0), (4, 4, 1.0), (5, 5, 1.0)),
    },
    "hexagonal": _HEXAGONAL,
    "trigonal": {**_HEXAGONAL, "c14": ((0, 3, 1.0), (1, 3, -1.0), (4, 5, 1.0))},
}


def stiffness_matrix(system: str, constants: Mapping[str, float]) -> Floats:
    """Stiffness matrix in the crystal's Cartesian axes.

    Parameters
    ----------
    system : str
        "cubic" (c11, c12, c44), "hexagonal" (c11, c12, c13, c33, c44), "trigonal" of the classes
        with six constants (also c14) or "isotropic" (youngs_modulus, poisson_ratio).
    constants : mapping of str to float
        The constants named above [Pa]; Poisson's ratio [1].

    Returns
    -------
    ndarray, shape (6, 6)
        Stiffness [Pa].

    Raises
    ------
    SubstrateError
        If the system is unknown, or a constant is missing or too much.

    References
    ----------
    J. F. Nye, Physical Properties of Crystals (1957), table 9.
    """
    if system == "isotropic":
        _want_constants(system, constants, ("youngs_modulus", "poisson_ratio"))
        modulus, ratio = constants["youngs_modulus"], constants["poisson_ratio"]
        _check_isotropic(modulus, ratio)
        if ratio == 0.5:
            raise SubstrateError("a Poisson's ratio of 0.5 has no finite stiffness matrix")
        lame = modulus * ratio / ((1.0 + ratio) * (1.0 - 2.0 * ratio))
        return _isotropic(lame, modulus / (2.0 * (1.0 + ratio)))
    stiffness = np.zeros((6, 6))
    for name, unit in _unit_matrices(system, constants).items():
        stiffness += constants[name] * unit
    return stiffness


def stiffness_derivatives(system: str, constants: Mapping[str, float]) -> dict[str, Floats]:
    """Differentiate the stiffness matrix with respect to each of its constants.

    Takes what `stiffness_matrix` takes; each value has shape (6, 6) and is dimensionless, except
    for ``poisson_ratio`` [Pa].
    """
    if system != "isotropic":
        return _unit_matrices(system, constants)
    stiffness = stiffness_matrix(system, constants)
    modulus, ratio = constants["youngs_modulus"], constants["poisson_ratio"]
    d_lame = modulus * (1.0 + 2.0 * ratio**2) / ((1.0 + ratio) * (1.0 - 2.0 * ratio)) ** 2
    d_shear = -modulus / (2.0 * (1.0 + ratio) ** 2)
    return {"youngs_modulus": stiffness / modulus, "poisson_ratio": _isotropic(d_lame, d_shear)}


def rotation(normal: ArrayLike, e1: ArrayLike) -> Floats:
    """Rows: e1 without its part along the normal, e2 = n x e1, n; all of unit length, shape (3, 3).

    Raises
    ------
    SubstrateError
        If a vector is zero or e1 is parallel to the normal.
    """
    n, along = np.array(normal, dtype=np.float64), np.array(e1, dtype=np.float64)
    lengths = float(np.linalg.norm(n)), float(np.linalg.norm(along))
    if min(lengths) == 0.0 or not all(map(math.isfinite, lengths)):
        raise SubstrateError("a surface normal and an in-plane direction must have a length")
    n, along = n / lengths[0], along / lengths[1]
    along -= (along @ n) * n
    length = float(np.linalg.norm(along))
    if length < 1e-6:
        raise SubstrateError("the reference direction is parallel to the surface normal")
    along /= length
    return np.array([along, _cross(n, along), n])


def rotate_stiffness(stiffness_pa: ArrayLike, axes: ArrayLike) -> Floats:
    """Stiffness matrix [Pa] in new axes, whose unit vectors are the rows of ``axes``.

    c'_ijkl = A_ia A_jb A_kc A_ld c_abcd, done with the 6x6 matrix of the stress transformation
    (W. L. Bond, Bell Syst. Tech. J. 22 (1943) 1).
    """
    a = np.asarray(axes, dtype=np.float64)
    rows_i, rows_j = a[_FIRST], a[_SECOND]
    bond = rows_i[:, _FIRST] * rows_j[:, _SECOND]
    bond += _SHEAR * rows_i[:, _SECOND] * rows_j[:, _FIRST]
    rotated: Floats = bond @ np.asarray(stiffness_pa, dtype=np.float64) @ bond.T
    return rotated


def reduced_stiffness(stiffness_pa: ArrayLike) -> Floats:
    """In-plane stiffness of a plate that is free of stress through its thickness.

    Q = C_aa - C_ab C_bb^-1 C_ba with a = (11, 22, 12) and b = (33, 23, 13): the strains b take the
    values that make sigma_33, sigma_23 and sigma_13 vanish.

    Parameters
    ----------
    stiffness_pa : array_like, shape (6, 6)
        Stiffness [Pa] with the plate's normal along axis 3.

    Returns
    -------
    ndarray, shape (3, 3)
        Q [Pa] in the order (xx, yy, xy).
    """
    c = np.asarray(stiffness_pa, dtype=np.float64)
    projection = _relaxation(c)
    reduced: Floats = projection @ c @ projection.T
    return 0.5 * (reduced + reduced.T)


def plane_stress_stiffness(stiffness_pa: ArrayLike, normal: ArrayLike, e1: ArrayLike) -> Floats:
    """Reduced stiffness Q [Pa] of a cut, shape (3, 3), in the in-plane axes e1 and normal x e1.

    Parameters
    ----------
    stiffness_pa : array_like, shape (6, 6)
        Stiffness in crystal axes [Pa].
    normal, e1 : array_like, shape (3,)
        Surface normal and in-plane reference in crystal axes, of any length; the part of e1
        along the normal is dropped.
    """
    return reduced_stiffness(rotate_stiffness(stiffness_pa, rotation(normal, e1)))


def plane_stress_stiffness_derivatives(
    stiffness_pa: ArrayLike, derivatives: Mapping[str, Floats], normal: ArrayLike, e1: ArrayLike
) -> dict[str, Floats]:
    """Differentiate Q with respect to each constant: dQ = P dC P^T with P = [1, -C_ab C_bb^-1].

    Because the out-of-plane strains minimise the energy, their own change has no first-order
    effect (envelope theorem), so the relation is exact.

    Parameters
    ----------
    stiffness_pa : array_like, shape (6, 6)
        Stiffness in crystal axes [Pa].
    derivatives : mapping of str to ndarray, shape (6, 6)
        From `stiffness_derivatives`.
    normal, e1 : array_like, shape (3,)
        As in `plane_stress_stiffness`.
    """
    axes = rotation(normal, e1)
    projection = _relaxation(rotate_stiffness(stiffness_pa, axes))
    return {
        name: projection @ rotate_stiffness(derivative, axes) @ projection.T
        for name, derivative in derivatives.items()
    }


def isotropic_plane_stress(*, youngs_modulus_pa: float, poisson_ratio: float) -> Floats:
    """Q [Pa] of an isotropic plate, shape (3, 3): Q11 = E/(1 - nu^2), Q12 = nu Q11, Q66 = G.

    Where a biaxial modulus M is known instead, E = M (1 - nu).  Valid up to nu = 0.5 (rubber).
    """
    _check_isotropic(youngs_modulus_pa, poisson_ratio)
    q11 = youngs_modulus_pa / (1.0 - poisson_ratio**2)
    q12, q66 = poisson_ratio * q11, youngs_modulus_pa / (2.0 * (1.0 + poisson_ratio))
    return np.array([[q11, q12, 0.0], [q12, q11, 0.0], [0.0, 0.0, q66]])


def rotate_reduced(reduced_pa: ArrayLike, angle_rad: float) -> Floats:
    """Q [Pa] in axes turned counter-clockwise by ``angle_rad`` about the normal, shape (3, 3)."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    turn = np.array(
        [
            [c * c, s * s, 2.0 * c * s],
            [s * s, c * c, -2.0 * c * s],
            [-c * s, c * s, c * c - s * s],
        ]
    )
    rotated: Floats = turn @ np.asarray(reduced_pa, dtype=np.float64) @ turn.T
    return rotated


def biaxial_response(reduced_pa: ArrayLike) -> Floats:
    """Stress per equibiaxial strain, Q (1, 1, 0) [Pa], shape (3,)."""
    response: Floats = np.asarray(reduced_pa, dtype=np.float64) @ EQUIBIAXIAL
    return response


def biaxial_modulus(reduced_pa: ArrayLike, *, tolerance: float = 1e-9) -> float:
    """Return the one biaxial modulus [Pa] of a cut whose equibiaxial response has no direction.

    Raises
    ------
    SubstrateError
        If the response differs with azimuth by more than ``tolerance`` (relative).
    """
    spread = azimuth_spread(reduced_pa)
    if spread > tolerance:
        raise SubstrateError(
            f"this cut has no single biaxial modulus: its curvature differs by {spread:.2%} with "
            "azimuth",
            hint="state the azimuth reference, so that the modulus along the scan can be used",
        )
    return directional_modulus(reduced_pa)


def directional_modulus(reduced_pa: ArrayLike) -> float:
    """Modulus [Pa] that a scan along axis 1 sees under an equibiaxial force: 1/[Q^-1 (1,1,0)]_1.

    It stands in Stoney's equation in place of M: kappa_1 = 6 N/(h_s^2 modulus).
    """
    return float(1.0 / _equibiaxial_strain(reduced_pa)[0])


def azimuth_spread(reduced_pa: ArrayLike) -> float:
    """How much the curvature under an equibiaxial force depends on azimuth [1].

    Largest minus smallest over their mean: 0 for Si(001), Si(111) and glass; 0.38 for Si(110).
    """
    xx, yy, xy = _equibiaxial_strain(reduced_pa)
    return float(2.0 * math.hypot(xx - yy, xy) / (xx + yy))


def response_depends_on_azimuth(reduced_pa: ArrayLike, tolerance: float = 1e-6) -> bool:
    """Whether `azimuth_spread` exceeds ``tolerance``."""
    return azimuth_spread(reduced_pa) > tolerance


def isotropic_equivalent(reduced_pa: ArrayLike) -> tuple[float, float]:
    """Mean of Q over all azimuths, as the (Q11, Q12) [Pa] of an isotropic plate.

    Its Poisson's ratio is Q12/Q11 and its bending stiffness Q11 h^3/12; Q11 + Q12 is M where the
    cut has one.  Used where only an isotropic solution exists (gravity).

    References
    ----------
    Average of the plane-stress invariants, S. W. Tsai and N. J. Pagano (1968): U1 and U4.
    """
    q = np.asarray(reduced_pa, dtype=np.float64)
    normal, cross, shear = q[0, 0] + q[1, 1], q[0, 1], q[2, 2]
    return (
        float((3.0 * normal + 2.0 * cross + 4.0 * shear) / 8.0),
        float((normal + 6.0 * cross - 4.0 * shear) / 8.0),
    )


def _equibiaxial_strain(reduced_pa: ArrayLike) -> Floats:
    return np.linalg.solve(np.asarray(reduced_pa, dtype=np.float64), EQUIBIAXIAL)


def _relaxation(c: Floats) -> Floats:
    """P with Q = P C P^T: what the in-plane stresses are when the out-of-plane ones vanish."""
    projection = np.zeros((3, 6))
    projection[[0, 1, 2], IN_PLANE] = 1.0
    across = c[np.ix_(OUT_OF_PLANE, IN_PLANE)]
    projection[:, OUT_OF_PLANE] = -np.linalg.solve(c[np.ix_(OUT_OF_PLANE, OUT_OF_PLANE)], across).T
    return projection


def _unit_matrices(system: str, constants: Mapping[str, float]) -> dict[str, Floats]:
    places = _PLACES.get(system)
    if places is None:
        raise SubstrateError(
            f"'{system}' is no crystal system that filmstress knows",
            hint=f"one of {', '.join(_PLACES)}, isotropic",
        )
    _want_constants(system, constants, tuple(places))
    units = {}
    for name, entries in places.items():
        unit = np.zeros((6, 6))
        for row, column, factor in entries:
            unit[row, column] = unit[column, row] = factor
        units[name] = unit
    return units


def _want_constants(system: str, constants: Mapping[str, float], names: tuple[str, ...]) -> None:
    if set(constants) != set(names):
        raise SubstrateError(
            f"a {system} stiffness is made of {', '.join(names)}; "
            f"came {', '.join(constants) or 'nothing'}"
        )


def _check_isotropic(youngs_modulus_pa: float, poisson_ratio: float) -> None:
    if not youngs_modulus_pa > 0.0:
        raise SubstrateError(f"Young's modulus is {youngs_modulus_pa:g} Pa; want more than zero")
    if not -1.0 < poisson_ratio <= 0.5:
        raise SubstrateError(f"Poisson's ratio is {poisson_ratio:g}; want -1 to 0.5")


def _isotropic(lame: float, shear: float) -> Floats:
    stiffness = np.zeros((6, 6))
    stiffness[:3, :3] = lame
    stiffness[[0, 1, 2], [0, 1, 2]] += 2.0 * shear
    stiffness[[3, 4, 5], [3, 4, 5]] = shear
    return stiffness


def _cross(a: Floats, b: Floats) -> Floats:
    # np.cross costs twenty times as much for two short vectors.
    return np.array(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )
