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


def mean_force(
    *,
    rim_slope: float,
    wafer_radius_m: float,
    modulus_pa: float,
    substrate_thickness_m: float,
) -> float:
    """Area mean of the film force per width from the change of the rim's slope [N/m].

    N = (M h_s^2/6) z'(R)/R, exact whatever the axisymmetric distribution; Poisson's ratio does not
    enter.  Arguments as in `radial_force`; ``rim_slope`` is z'(R) [1].
    """
    return modulus_pa * substrate_thickness_m**2 / 6.0 * rim_slope / wafer_radius_m


def difference_of_stresses(
    *,
    kappa_rr_per_m: ArrayLike,
    kappa_tt_per_m: ArrayLike,
    film_youngs_modulus_pa: float,
    film_poisson_ratio: float,
    substrate_thickness_m: float,
) -> Floats:
    """sigma_rr - sigma_tt [Pa] that the bending itself puts into a film of equibiaxial misfit.

    -[2 E_f h_s/(3 (1 + nu_f))] (kappa_rr - kappa_tt): of order h_f/h_s beside the stress.  Of the
    2/3, 1/2 is the bent surface and 1/6 the stretched mid-plane.
    """
    difference = np.asarray(kappa_rr_per_m, dtype=np.float64) - np.asarray(
        kappa_tt_per_m, dtype=np.float64
    )
    shear = film_youngs_modulus_pa / (1.0 + film_poisson_ratio)
    stress: Floats = -2.0 / 3.0 * shear * substrate_thickness_m * difference
    return stress


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


def thickness_profile_force(
    *,
    thickness_range_m: float,
    scan_length_m: float,
    modulus_pa: float,
    substrate_thickness_m: float,
) -> float:
    """Film force that a film's own thickness profile pretends [N/m], on the scanned face.

    The scan sees the film's upper face.  A film thicker in the middle of the scan than at its ends
    by dt (middle minus ends) adds the parabola -4 dt (x/L)^2, a curvature -8 dt/L^2, which reads as
    N = -(4/3) M h_s^2 dt/L^2.  As a stress it is -(4/3) M (h_s/L)^2 times dt/h_f, whatever the
    film.
    """
    return (
        -4.0 / 3.0 * modulus_pa * thickness_range_m * (substrate_thickness_m / scan_length_m) ** 2
    )
