"""The wafer's own weight as the calibration of a curvature measurement.

A bare wafer scanned on two known supports bows by its weight alone.  Both curvatures, that of the
film and that of the weight, are seen with the same height scale, on the same plate:

    dkappa_film = 6 N/(M h_s^2),   dkappa_weight = C rho g h_s R^2/D,   D = M h_s^3/[12 (1 + nu)]
    =>  N = 2 (1 + nu) C rho g R^2 dkappa_film/dkappa_weight,

in which the substrate's thickness, its modulus and the height scale cancel.  C is a pure number
that the two supports, the scanned window and Poisson's ratio give; on a crystal, its directions
too.

Where it is better: the thickness is known from a nominal value only (20 um limits on 525 um are
4.4 % of stress), or the modulus or the height scale is not well known.  Where it is not: on small
wafers the weight bends too little (100 mm x 525 um of silicon between points at 0.5 R and 0.95 R:
0.0035 1/m, 2.8 um over 80 mm, of which 10 nm of repeatability in each scan are 0.5 %), and a
thickness known to a micrometre (0.4 %) is as good.  The radii of the supports must be known: there,
1 % of the inner and of the outer one are 1.2 % and 1.9 % of the force
(`Calibration.radius_sensitivity`).  A stage that sags under the load is not seen.

Range: thin film, uniform thickness, supports without friction, small deflection.  On 300 mm x
775 um the sag itself stiffens the plate, by about 1 % between the same points: choose supports
that bend it less, such as 0.5 R and 0.8 R.
The relation is derived here from the linear plate; no published procedure is known.
"""

from __future__ import annotations

from dataclasses import dataclass

from numpy.typing import ArrayLike

from filmstress.physics.elasticity import directional_modulus
from filmstress.physics.supported_plate import fit_curvature

_STEP = 1e-3


@dataclass(frozen=True, slots=True)
class Support:
    """What carries the bare wafer in one of the two scans.

    Attributes
    ----------
    kind : str
        "rim", "centre" or "three-points".
    radius_m : float or None
        Of the three points [m]; None is the wafer's rim.
    azimuth_rad : float
        Of the scan, from one of the points [rad].
    """

    kind: str
    radius_m: float | None = None
    azimuth_rad: float = 0.0


@dataclass(frozen=True, slots=True)
class Calibration:
    """Film force for a ratio of curvatures.

    Attributes
    ----------
    force_n_per_m : float
        2 (1 + nu) C rho g R^2: the film force whose curvature equals that of the weight [N/m].
    radius_sensitivity : tuple of float
        Relative change of it per relative change of each support's radius [1]; 0 for a rim or a
        centre.
    """

    force_n_per_m: float
    radius_sensitivity: tuple[float, float]


def weight_calibration(
    *,
    first: Support,
    second: Support,
    density_kg_per_m3: float,
    wafer_radius_m: float,
    reduced_pa: ArrayLike,
    window_low_m: float,
    window_high_m: float,
) -> Calibration:
    """Film force that bends a wafer as much as its weight does between two supports.

    Parameters
    ----------
    first, second : Support
        The film force is found with the weight's change of curvature, second minus first.
    density_kg_per_m3, wafer_radius_m : float
        Of the wafer.
    reduced_pa : array_like, shape (3, 3)
        Q with axis x along the scan [Pa]; only its ratios matter.
    window_low_m, window_high_m : float
        Ends of the fitted part from the wafer's centre [m], the same in all scans.

    Raises
    ------
    SubstrateError
        If a support is not known or does not lie on the wafer.
    """

    def force(one: Support, other: Support) -> float:
        # Any thickness will do: it cancels.
        thickness = 1e-3
        bent = [
            fit_curvature(
                support.kind,
                density_kg_per_m3=density_kg_per_m3,
                thickness_m=thickness,
                wafer_radius_m=wafer_radius_m,
                reduced_pa=reduced_pa,
                window_low_m=window_low_m,
                window_high_m=window_high_m,
                support_radius_m=support.radius_m,
                azimuth_rad=support.azimuth_rad,
            )
            for support in (one, other)
        ]
        return directional_modulus(reduced_pa) * thickness**2 / 6.0 * (bent[1] - bent[0])

    whole = force(first, second)

    def sensitivity(number: int) -> float:
        support = (first, second)[number]
        if support.kind != "three-points":
            return 0.0
        radius = wafer_radius_m if support.radius_m is None else support.radius_m
        # Inwards only: points at the rim cannot move out.
        nearer = Support(support.kind, radius * (1.0 - _STEP), support.azimuth_rad)
        moved = force(nearer, second) if number == 0 else force(first, nearer)
        return (whole - moved) / (_STEP * whole)

    return Calibration(whole, (sensitivity(0), sensitivity(1)))


def force_by_weight(
    *, calibration: Calibration, film_change_per_m: float, weight_change_per_m: float
) -> float:
    """Film force per width [N/m] from the two measured changes of curvature [1/m].

    Their relative errors add in squares; a common height scale drops out, and so does a common
    position scale.
    """
    return calibration.force_n_per_m * film_change_per_m / weight_change_per_m
