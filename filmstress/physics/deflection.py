"""Large deflection of a round wafer under a thin film's equibiaxial stress.

A plate bent into a bowl must stretch, which stiffens it: the linear relation reads too little
stress.  With the wafer radius R, K = kappa R^2/(4 h_s) and S = 3 N R^2/(2 M h_s^3), the linear
relation is S = K.  Corrected, S = K + c K^3, where c depends on *how* K was measured, because the
bent wafer is not a sphere: its centre flattens and its rim steepens.

Derivation of c: the axisymmetric von Karman equations with slope b x (b in 4 h_s/R, x = r/R),

    L p = -b^2/x,   L b = 96 (1 - nu^2) p b/x,   L = d2/dx2 + (1/x) d/dx - 1/x^2,
    p(1) = 0,   b'(1) + nu b(1) = (1 + nu) S,

solved to third order in S: b = S x + (1 - nu^2) S^3 [(3 x^3 - x^5)/2 - (2 + nu)/(1 + nu) x].

Range: S below 1 and below the bifurcation.  What the series leaves out is positive
(`remainder`); for nu = 0.25 and the central 60 % of the diameter it is 0.2 % of S at S = 0.2, 0.7 %
at 0.3 and 3 % at 0.5; over the full diameter about an eighth of that.

References
----------
L. B. Freund, J. Mech. Phys. Solids 48 (2000) 1159, for the spherical shape and the bifurcation
(from memory); the coefficient of a fitted parabola is derived here and tested against a numerical
solution of the equations above.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike


def reduced_curvature(
    *, curvature_per_m: float, wafer_radius_m: float, substrate_thickness_m: float
) -> float:
    """K = kappa R^2/(4 h_s) [1]: half the edge deflection over the thickness."""
    return curvature_per_m * wafer_radius_m**2 / (4.0 * substrate_thickness_m)


def reduced_force(
    *,
    force_per_width_n_per_m: float,
    modulus_pa: float,
    wafer_radius_m: float,
    substrate_thickness_m: float,
) -> float:
    """S = 3 N R^2/(2 M h_s^3) [1]: the K that the linear relation gives for a film force N."""
    stiffness = 2.0 * modulus_pa * substrate_thickness_m**3
    return 3.0 * force_per_width_n_per_m * wafer_radius_m**2 / stiffness


def fit_coefficient(
    *, poisson_ratio: float, window_low: float = -1.0, window_high: float = 1.0
) -> float:
    """Coefficient c of S = K + c K^3 for a parabola fitted over part of a diameter [1].

    Over the central fraction f it is (1 - nu) [(2 + nu) - (1 + nu)(9 f^2/14 - 5 f^4/42)].

    Parameters
    ----------
    poisson_ratio : float
        Of the substrate [1]; on a crystal that of its isotropic equivalent
        (`filmstress.physics.elasticity.isotropic_equivalent`), which leaves 15 % of the correction
        uncertain.
    window_low, window_high : float
        Ends of the fitted part of the scan in wafer radii from the centre, -1 to 1; sampled
        evenly.
    """
    middle, half = 0.5 * (window_low + window_high), 0.5 * (window_high - window_low)
    # x^2 terms of the parabola fitted to x^4 and to x^6 (Legendre expansion about the middle).
    fourth = 6.0 * middle**2 + (6.0 / 7.0) * half**2
    sixth = 15.0 * middle**4 + (90.0 / 7.0) * middle**2 * half**2 + (5.0 / 7.0) * half**4
    shape = 0.75 * fourth - sixth / 6.0
    return (1.0 - poisson_ratio) * ((2.0 + poisson_ratio) - (1.0 + poisson_ratio) * shape)


def force_over_linear(
    *,
    coefficient: float,
    reduced_before: float,
    reduced_after: float,
    stress_free_before: bool = True,
) -> float:
    """Factor on the linear film force of a curvature change [1], (S_after - S_before)/dK.

    Parameters
    ----------
    coefficient : float
        c, from `fit_coefficient`.
    reduced_before, reduced_after : float
        K of the wafer's absolute curvature before and after, signed.
    stress_free_before : bool
        Whether the first curvature is the shape of the bare wafer, which it has without stress:
        S = dK + c K_after (K_after^2 - K_before^2).  Otherwise it comes from an earlier film, and
        S + S_before = K_after + c K_after^3.
    """
    growth = reduced_after * (reduced_after + reduced_before)
    if not stress_free_before:
        growth += reduced_before**2
    return 1.0 + coefficient * growth


def linear_shortfall(
    *,
    curvature_change_per_m: float,
    curvature_before_per_m: float,
    wafer_radius_m: float,
    substrate_thickness_m: float,
    scan_length_m: float,
    poisson_ratio: float,
) -> float:
    """How much more film force than a linear plate's such a change needs [1], by the series.

    Parameters
    ----------
    curvature_change_per_m, curvature_before_per_m : float
        Of a parabola fitted over a scan centred on the wafer [1/m]; before, without stress.
    wafer_radius_m, substrate_thickness_m, scan_length_m : float
        [m].
    poisson_ratio : float
        As in `fit_coefficient`.
    """
    before, after = (
        reduced_curvature(
            curvature_per_m=curvature,
            wafer_radius_m=wafer_radius_m,
            substrate_thickness_m=substrate_thickness_m,
        )
        for curvature in (curvature_before_per_m, curvature_before_per_m + curvature_change_per_m)
    )
    reach = min(0.5 * scan_length_m / wafer_radius_m, 1.0)
    told = force_over_linear(
        coefficient=fit_coefficient(
            poisson_ratio=poisson_ratio, window_low=-reach, window_high=reach
        ),
        reduced_before=before,
        reduced_after=after,
    )
    return told - 1.0


def remainder(*, coefficient: float, reduced_curvature: float) -> float:
    """Upper bound of what the series leaves out, relative to the linear force [1].

    S/K - (1 + c K^2) lies between 0 and 2 (c K^2)^2 for S up to 1 and windows centred on the
    wafer.  In numerical solutions with nu from 0.1 to 0.35 it is 0.1 (c K^2)^2 over the full
    diameter and at most 1.75 (c K^2)^2, at the centre and S = 1.
    """
    return 2.0 * (coefficient * reduced_curvature**2) ** 2


def membrane_modulus(reduced_pa: ArrayLike) -> float:
    """Modulus [Pa] against stretching into a constant Gaussian curvature; E where isotropic.

    E* = 8/(3 S11 + 3 S22 + 2 S12 + S66) with S = Q^-1: the Airy function A (R^2 - r^2)^2 meets the
    free edge, and compatibility S11 F_yyyy + (2 S12 + S66) F_xxyy + S22 F_xxxx = -h_s G.
    """
    s = np.linalg.inv(np.asarray(reduced_pa, dtype=np.float64))
    return float(8.0 / (3.0 * s[0, 0] + 3.0 * s[1, 1] + 2.0 * s[0, 1] + s[2, 2]))


def bifurcation(reduced_pa: ArrayLike) -> tuple[float, float]:
    """K and S at which a bowl turns into a cylinder-like shape, for a shape of even curvature.

    With the deviatoric stiffness lambda, the smaller eigenvalue of
    [[(Q11 + Q22)/2 - Q12, Q16 - Q26], [Q16 - Q26, 2 Q66]]: K_c^2 = lambda/E*,
    S_c = K_c (1 + K_c^2 E*/M).  Isotropic: K_c = (1 + nu)^(-1/2), S_c = 2 (1 + nu)^(-3/2).

    The true shape holds out a little longer: finite elements put S_c 3 to 4 % higher, so this is
    the side to err on.  Watch S, not K: near S_c the centre reads K = 0.6 only.  A cut whose
    equibiaxial response depends on azimuth has no sharp bifurcation; the value then is where it
    has lost its stiffness.

    Parameters
    ----------
    reduced_pa : array_like, shape (3, 3)
        Q [Pa].
    """
    q = np.asarray(reduced_pa, dtype=np.float64)
    stretch = membrane_modulus(q)
    mean = 0.5 * (q[0, 0] + q[1, 1])
    biaxial = mean + q[0, 1]
    coupling = q[0, 2] - q[1, 2]
    deviatoric = [[mean - q[0, 1], coupling], [coupling, 2.0 * q[2, 2]]]
    softest = float(np.linalg.eigvalsh(deviatoric)[0])
    critical = math.sqrt(softest / stretch)
    return critical, critical * (1.0 + float(softest / biaxial))
