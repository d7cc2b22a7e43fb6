"""Stress that varies over the wafer: what one parabola says of it, and the stress along a scan.

Thin film, axisymmetric equibiaxial misfit, linear isotropic plate with a free rim.  The wafer is
one piece, so its curvature at a place answers to the stress there *and* to the mean over the wafer.
With Sigma = z'' + z'/r, its area mean over the wafer, and m = N h_s/2 the moment of the film,

    D Sigma = m + [(1 - nu)/(1 + nu)] mean m,    m = D {Sigma - [(1 - nu)/2] mean Sigma},

and the area mean is told by the rim alone: mean Sigma = 2 z'(R)/R, mean m = D (1 + nu) z'(R)/R.
Derivation: moment balance of the plate under distributed moments, M_r(R) = 0 at the free rim.

A film force here stands for a film stress through its thickness; M = biaxial modulus of the
substrate, D = M h_s^3/[12 (1 + nu)].

References
----------
Y. Huang and A. J. Rosakis, J. Mech. Phys. Solids 53 (2005) 2483; X. Feng, Y. Huang, H. Jiang,
D. Ngo and A. J. Rosakis, J. Mech. Mater. Struct. 1 (2006) 1041 (the same relation for a film of
another radius than the substrate's).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def radial_force(
    *,
    kappa_rr_per_m: ArrayLike,
    kappa_tt_per_m: ArrayLike,
    mean_sum_per_m: float,
    modulus_pa: float,
    poisson_ratio: float,
    substrate_thickness_m: float,
) -> Floats:
    """Film force per width along a radius, half the sum of its two normal parts [N/m].

    N = (M h_s^2/6) {(Sigma/2)(1 + a) - a mean Sigma/2}, a = (1 - nu)/(1 + nu).

    Parameters
    ----------
    kappa_rr_per_m, kappa_tt_per_m : array_like, shape (n,)
        Curvature changes z'' and z'/r [1/m].
    mean_sum_per_m : float
        Area mean of their sum over the whole wafer, 2 z'(R)/R [1/m]: needs a scan that reaches the
        rim.  Where it does not, see `filmstress.physics.partial_scan`.
    modulus_pa, poisson_ratio, substrate_thickness_m : float
        Of the substrate; on a crystal the biaxial modulus, and Poisson's ratio of its isotropic
        equivalent.
    """
    total = np.asarray(kappa_rr_per_m, dtype=np.float64) + np.asarray(
        kappa_tt_per_m, dtype=np.float64
    )
    ratio = (1.0 - poisson_ratio) / (1.0 + poisson_ratio)
    own = (1.0 + ratio) * total - ratio * mean_sum_per_m
    force: Floats = modulus_pa * substrate_thickness_m**2 / 12.0 * own
    return force


def ring_factor(*, poisson_ratio: float, film_radius_m: float, wafer_radius_m: float) -> float:
    """Curvature within a uniform film that ends short of the rim, over that of a full film [1].

    (1 + nu)/2 + [(1 - nu)/2] (r_f/R)^2: the bare ring holds the film back.
    """
    share = (film_radius_m / wafer_radius_m) ** 2
    return 0.5 * (1.0 + poisson_ratio) + 0.5 * (1.0 - poisson_ratio) * share


def ring_sensitivity(*, poisson_ratio: float, film_radius_m: float, wafer_radius_m: float) -> float:
    """Derivative of `ring_factor` by the width of the bare ring R - r_f, R kept [1/m].

    -(1 - nu) r_f/R^2.
    """
    return -(1.0 - poisson_ratio) * film_radius_m / wafer_radius_m**2


def parabola_over_mean(*, poisson_ratio: float, scan_radius: float, order: int = 2) -> float:
    """How far one parabola's force departs from the area mean, per departure of the film [1].

    A film N(r) = N0 [1 + d ((r/R)^n - 2/(n + 2))], weaker by d N0 in the middle than at the rim,
    has the mean N0 over the wafer.  The parabola fitted evenly over |r| <= s R reads N0 times
    1 + d times this number.

    Parameters
    ----------
    poisson_ratio : float
        Of the substrate [1].
    scan_radius : float
        s, half the scan over R [1], 0 to 1.
    order : int
        n, even: 2 for the first departure from uniform.

    Notes
    -----
    The uniform part has the curvature m0/[D (1 + nu)]; of the rest r z' = integral of Sigma r dr
    makes the height (m0 d/D) [r^(n+2)/(n + 2)^2 - r^2/(2 (n + 2))].  For n = 2 and the whole
    diameter this gives -(1 + nu)/7.
    """
    power = order + 2
    # x^2 coefficient, as a curvature, of the parabola fitted to |x|^power over -s..s.
    fitted = 15.0 * power / ((power + 1.0) * (power + 3.0)) * scan_radius**order
    return (1.0 + poisson_ratio) * (fitted / power**2 - 1.0 / power)


def radial_height(
    radius_m: ArrayLike, *, curvature_per_m: float, poisson_ratio: float, wafer_radius_m: float
) -> Floats:
    """Height [m] that a film N0 [(r/R)^2 - 1/2] adds, per departure of 1 from rim to centre.

    kappa (1 + nu) [r^4/(16 R^2) - r^2/8]: see `parabola_over_mean`, n = 2.

    Parameters
    ----------
    radius_m : array_like
        From the wafer's centre [m].
    curvature_per_m : float
        Of a uniform film N0 [1/m].
    poisson_ratio, wafer_radius_m : float
        Of the substrate [1, m].
    """
    square = np.asarray(radius_m, dtype=np.float64) ** 2
    height: Floats = (
        curvature_per_m * (1.0 + poisson_ratio) * square * (square / wafer_radius_m**2 - 2.0) / 16.0
    )
    return height
