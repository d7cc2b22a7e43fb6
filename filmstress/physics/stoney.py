"""Stoney's relation between film force and curvature change, for a thin uniform film.

A film force N = sigma h_f at the upper face of a plate of thickness h_s, in equilibrium with the
plate, acts as a moment N h_s/2 per width.  The plate answers with the curvature
(h_s^3/12) Q dkappa, so N = (h_s^2/6) Q dkappa, whatever the film is made of.

Signs: z up from the scanned face, curvature d2z/dx2 > 0 is a bowl, tension positive.
``face_sign`` is +1 with the film on the scanned face and -1 with the film on the other one.

Range: h_f/h_s below 0.01 for about 1 to 3 % (`filmstress.physics.bilayer` lifts this), bow below
h_s/6 for 1 % (`filmstress.physics.deflection`), stress uniform over many h_s, elastic substrate.

References
----------
G. G. Stoney, Proc. R. Soc. A 82 (1909) 172; W. D. Nix, Metall. Trans. A 20 (1989) 2217;
G. C. A. M. Janssen et al., Thin Solid Films 517 (2009) 1858.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def force_per_width(
    *,
    modulus_pa: float,
    curvature_change_per_m: float,
    substrate_thickness_m: float,
    face_sign: int = 1,
) -> float:
    """Film force per width N [N/m] of an equibiaxial stress, N = s M h_s^2 dkappa/6.

    Parameters
    ----------
    modulus_pa : float
        Biaxial modulus M of the substrate [Pa].  On a cut whose response depends on azimuth, the
        modulus along the scan (`filmstress.physics.elasticity.directional_modulus`).
    curvature_change_per_m : float
        After minus before, along the scan [1/m].
    substrate_thickness_m : float
        h_s [m].
    face_sign : int
        +1 film on the scanned face, -1 on the other.
    """
    return face_sign * modulus_pa * substrate_thickness_m**2 * curvature_change_per_m / 6.0


def curvature_change(
    *,
    modulus_pa: float,
    force_per_width_n_per_m: float,
    substrate_thickness_m: float,
    face_sign: int = 1,
) -> float:
    """Curvature change [1/m] that an equibiaxial film force [N/m] causes; see `force_per_width`."""
    return face_sign * 6.0 * force_per_width_n_per_m / (modulus_pa * substrate_thickness_m**2)


def force_tensor(
    *,
    reduced_pa: ArrayLike,
    curvature_change_per_m: ArrayLike,
    substrate_thickness_m: float,
    face_sign: int = 1,
) -> Floats:
    """Film force per width (N_xx, N_yy, N_xy) [N/m], shape (3,): N = s (h_s^2/6) Q dkappa.

    Parameters
    ----------
    reduced_pa : array_like, shape (3, 3)
        Q of the cut in the axes of the curvature [Pa].
    curvature_change_per_m : array_like, shape (3,)
        (dkappa_xx, dkappa_yy, 2 dkappa_xy) [1/m].
    substrate_thickness_m, face_sign
        As in `force_per_width`.
    """
    stiffness = np.asarray(reduced_pa, dtype=np.float64)
    curvature = np.asarray(curvature_change_per_m, dtype=np.float64)
    force: Floats = (face_sign * substrate_thickness_m**2 / 6.0) * (stiffness @ curvature)
    return force


def curvature_tensor(
    *,
    reduced_pa: ArrayLike,
    force_per_width_n_per_m: ArrayLike,
    substrate_thickness_m: float,
    face_sign: int = 1,
) -> Floats:
    """Curvature change (xx, yy, 2xy) [1/m], shape (3,), of a film force (xx, yy, xy) [N/m]."""
    stiffness = np.asarray(reduced_pa, dtype=np.float64)
    force = np.asarray(force_per_width_n_per_m, dtype=np.float64)
    curvature = np.asarray(np.linalg.solve(stiffness, force), dtype=np.float64)
    return curvature * (face_sign * 6.0 / substrate_thickness_m**2)


def curvature_row(azimuth_rad: ArrayLike) -> Floats:
    """Weights of (kappa_xx, kappa_yy, 2 kappa_xy) in the curvature along an azimuth.

    Azimuths [rad] of shape (...,) give weights of shape (..., 3); several azimuths give the design
    matrix of a least-squares solution for the three components.
    """
    azimuth = np.asarray(azimuth_rad, dtype=np.float64)
    c, s = np.cos(azimuth), np.sin(azimuth)
    return np.stack([c * c, s * s, c * s], axis=-1)
