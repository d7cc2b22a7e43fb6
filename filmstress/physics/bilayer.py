"""Film and substrate of comparable thickness: the exact linear bilayer.

Two stresses must be told apart.  The *relaxed mean* stress is the average of what the film carries
while the wafer is bent; the *mismatch* stress M_f eps is what it would carry on a rigid substrate.

With h = h_f/h_s, m = M_f/M_s and P = 1 + 4hm + 6h^2 m + 4h^3 m + h^4 m^2:

    kappa            = (6 eps h m/h_s) (1 + h)/P
    relaxed mean     = Stoney (1 + m h^3)/(1 + h)
    mismatch         = Stoney P/(1 + h)

Range: linear elasticity, small rotation, equibiaxial stress, substrate and film with one biaxial
modulus each, film continuous to the edge; any thickness ratio.

References
----------
S. Timoshenko, J. Opt. Soc. Am. 11 (1925) 233; L. B. Freund, J. A. Floro and E. Chason, Appl. Phys.
Lett. 74 (1999) 1987, DOI 10.1063/1.123722.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Number = TypeVar("Number", "float", "NDArray[np.float64]")
"""One number, or an array of them."""


def curvature_over_stoney(*, thickness_ratio: float, modulus_ratio: float) -> float:
    """Curvature over what Stoney's equation predicts from the mismatch stress, (1 + h)/P [1].

    Parameters
    ----------
    thickness_ratio : float
        Film over substrate thickness h [1].
    modulus_ratio : float
        Biaxial modulus of the film over that of the substrate m [1].
    """
    return (1.0 + thickness_ratio) / _stiffness(thickness_ratio, modulus_ratio)


def relaxed_over_stoney(*, thickness_ratio: Number, modulus_ratio: Number) -> Number:
    """Mean stress in the film over Stoney's value from the curvature, (1 + m h^3)/(1 + h) [1].

    The film modulus enters at third order only: with h below 0.1, m = 1 in place of m = 0 or 2
    changes the result by less than 0.1 %.  Arguments as in `curvature_over_stoney`.
    """
    return (1.0 + modulus_ratio * thickness_ratio**3) / (1.0 + thickness_ratio)


def mismatch_over_stoney(*, thickness_ratio: Number, modulus_ratio: Number) -> Number:
    """Mismatch stress over Stoney's value from the curvature, P/(1 + h) [1].

    Grows as 1 + (4m - 1) h.  Arguments as in `curvature_over_stoney`.
    """
    return _stiffness(thickness_ratio, modulus_ratio) / (1.0 + thickness_ratio)


def curvature_change(
    *,
    mismatch_strain: float,
    film_modulus_pa: float,
    film_thickness_m: float,
    substrate_modulus_pa: float,
    substrate_thickness_m: float,
) -> float:
    """Curvature [1/m] of a bilayer with a mismatch strain, positive (bowl) where the film pulls.

    Parameters
    ----------
    mismatch_strain : float
        Strain the film would have on a rigid substrate [1].
    film_modulus_pa, substrate_modulus_pa : float
        Biaxial moduli [Pa].
    film_thickness_m, substrate_thickness_m : float
        Thicknesses [m].
    """
    h = film_thickness_m / substrate_thickness_m
    m = film_modulus_pa / substrate_modulus_pa
    stoney = 6.0 * mismatch_strain * h * m / substrate_thickness_m
    return stoney * curvature_over_stoney(thickness_ratio=h, modulus_ratio=m)


def _stiffness(h: Number, m: Number) -> Number:
    return 1.0 + 4.0 * h * m + 6.0 * h**2 * m + 4.0 * h**3 * m + h**4 * m**2
