"""The wafer's own weight as the calibration of a curvature measurement.

A bare wafer scanned on two known supports bows by its weight alone.  Both curvatures, that of the
film and that of the weight, are seen with the same height scale, on the same plate:

    dkappa_film = 6 N/(M h_s^2),   dkappa_weight = C rho g h_s R^2/D,   D = M h_s^3/[12 (1 + nu)]
    =>  N = 2 (1 + nu) C rho g R^2 dkappa_film/dkappa_weight,

in which the substrate's thickness, its modulus and the height scale cancel.  C is a pure number
that the two supports, the scanned window and Poisson's ratio give.  On a crystal both curvatures
are inverse to the stiffness as a whole, Q h_s^2 here and there: what remains is C, a function of
the *ratios* of Q's components.  The position scale cancels but for what it does to the window.

So the weight tells one number of the plate, Q h_s^2 as seen by this instrument over Q h_s^2 as
stated: the ratio of the expected change of curvature (`weight_change`) to the one that is seen.
Force and stress, found with the stated stiffness, are to be multiplied by it.

Where it is better: the thickness is known from a nominal value only (20 um limits on 525 um are
4.4 % of stress), or the modulus or the height scale is not well known.  Where it is not: on small
wafers the weight bends too little (100 mm x 525 um of silicon between points at 0.5 R and 0.95 R:
0.0035 1/m, 2.8 um over 80 mm, of which 10 nm of repeatability in each scan are 0.5 %), and a
thickness known to a micrometre (0.4 %) is as good.  The radii of the supports must be known: there,
1 % of the inner and of the outer one are 1.2 % and 1.9 % of the force.  A stage that sags under the
load is not seen.

Range: thin film, uniform thickness, supports without friction.  The linear plate is exact to 0.002
of q R^2/(8 D) against finite elements, on glass, Si(001), Si(111) and Si(110); `stretched_change`
gives what the sag's own stretching takes off, about 1 % on 300 mm x 775 um.
The relation is derived here from the linear plate; no published procedure is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike

from filmstress.physics import gravity
from filmstress.physics.elasticity import directional_modulus, isotropic_equivalent
from filmstress.physics.supported_plate import Weight, fit_curvature, reduced_load
from filmstress.physics.von_karman import stretched_sag


@dataclass(frozen=True, slots=True)
class Support:
    """What carries the bare wafer in one of the two scans.

    Attributes
    ----------
    kind : str
        "rim", "centre" or "three-points".
    radius_m : float or None
        Of the three points [m]; None is the wafer's rim.
    azimuth_rad : float or None
        Of the scan, from one of the points [rad]; None is not known, which takes the mean over
        all.
    """

    kind: str
    radius_m: float | None = None
    azimuth_rad: float | None = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """A bare wafer and the part of its diameter that is fitted.

    Attributes
    ----------
    density_kg_per_m3, gravity_m_per_s2, thickness_m, wafer_radius_m : float
        Of the wafer, and the acceleration of free fall.
    window_low_m, window_high_m : float
        Ends of the fitted part from the wafer's centre [m], the same in both scans.
    """

    density_kg_per_m3: float
    thickness_m: float
    wafer_radius_m: float
    window_low_m: float
    window_high_m: float
    gravity_m_per_s2: float = gravity.STANDARD_GRAVITY

    @property
    def felt_density(self) -> float:
        """Density that weighs as much under standard gravity [kg/m^3]."""
        return self.density_kg_per_m3 * self.gravity_m_per_s2 / gravity.STANDARD_GRAVITY


def weight_curvature(wafer: Weighed, support: Support, reduced_pa: ArrayLike) -> float:
    """Curvature [1/m] that the weight adds to a parabola fitted to a scan, on the linear plate.

    Parameters
    ----------
    wafer : Weighed
    support : Support
    reduced_pa : array_like, shape (3, 3)
        Q with axis x along the scan [Pa].

    Raises
    ------
    SubstrateError
        If the support is not known or does not lie on the wafer.
    """
    # The mean over all azimuths is that of the two extremes, but for the sixth harmonic.
    angles = (0.0, math.pi / 6.0) if support.azimuth_rad is None else (support.azimuth_rad,)
    if support.kind != "three-points":
        angles = (0.0,)
    readings = [
        fit_curvature(
            support.kind,
            density_kg_per_m3=wafer.felt_density,
            thickness_m=wafer.thickness_m,
            wafer_radius_m=wafer.wafer_radius_m,
            reduced_pa=reduced_pa,
            window_low_m=wafer.window_low_m,
            window_high_m=wafer.window_high_m,
            support_radius_m=support.radius_m,
            azimuth_rad=angle,
        )
        for angle in angles
    ]
    return math.fsum(readings) / len(readings)


def weight_change(wafer: Weighed, first: Support, second: Support, reduced_pa: ArrayLike) -> float:
    """Change of a bare wafer's fitted curvature from the first support to the second [1/m].

    Arguments and errors as in `weight_curvature`.
    """
    return weight_curvature(wafer, second, reduced_pa) - weight_curvature(wafer, first, reduced_pa)


def stretched_change(
    wafer: Weighed,
    first: Support,
    second: Support,
    reduced_pa: ArrayLike,
    *,
    bare_curvature_per_m: float,
) -> float:
    """What large deflection adds to `weight_change` [1/m].

    Parameters
    ----------
    bare_curvature_per_m : float
        Of the stress-free wafer without its weight, taken as spherical [1/m].
    wafer, first, second, reduced_pa
        As in `weight_change`.
    """
    load = reduced_load(
        density_kg_per_m3=wafer.felt_density,
        thickness_m=wafer.thickness_m,
        wafer_radius_m=wafer.wafer_radius_m,
        reduced_pa=reduced_pa,
    )
    to_curvature = 4.0 * wafer.thickness_m / wafer.wafer_radius_m**2

    def more(support: Support) -> float:
        radius = {"rim": 1.0, "centre": 0.0}.get(support.kind, 1.0)
        if support.kind == "three-points" and support.radius_m is not None:
            radius = support.radius_m / wafer.wafer_radius_m
        known = support.kind == "three-points" and support.azimuth_rad is not None
        azimuth = -(support.azimuth_rad or 0.0) if known else None
        return to_curvature * stretched_sag(
            reduced_pa=reduced_pa,
            window_low=wafer.window_low_m / wafer.wafer_radius_m,
            window_high=wafer.window_high_m / wafer.wafer_radius_m,
            reduced_bow=bare_curvature_per_m / to_curvature,
            weight=Weight(load, radius, azimuth),
        )

    return more(second) - more(first)


def equal_force(change_per_m: float, *, reduced_pa: ArrayLike, thickness_m: float) -> float:
    """Film force per width [N/m] that changes the curvature along axis x by as much [N/m].

    For `weight_change` it is 2 (1 + nu) C rho g R^2, whatever the thickness and the modulus.
    """
    return directional_modulus(reduced_pa) * thickness_m**2 / 6.0 * change_per_m


def sag_unit(wafer: Weighed, reduced_pa: ArrayLike) -> float:
    """Size of sag curvatures, q R^2/(8 D) [1/m]."""
    q11, _ = isotropic_equivalent(reduced_pa)
    load = wafer.felt_density * gravity.STANDARD_GRAVITY
    return 1.5 * load * wafer.wafer_radius_m**2 / (q11 * wafer.thickness_m**2)
