"""The shape of the wafer's face in wafer coordinates, bare and bent by its film."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.physics import deflection
from filmstress.physics.elasticity import (
    isotropic_equivalent,
    plane_stress_stiffness,
    stiffness_matrix,
)
from filmstress.physics.nonuniform import radial_height
from filmstress.physics.stoney import curvature_row
from filmstress.physics.stoney import curvature_tensor as stoney_curvature
from filmstress.records.wafer import Face
from filmstress.simulate.random_field import RandomField
from filmstress.simulate.truth import Truth
from filmstress.substrates.catalogue import default_reference, find_cut, in_plane_direction

FloatArray = NDArray[np.float64]


def curvature_tensor(truth: Truth) -> FloatArray:
    """Curvature change by the film (xx, yy, 2 xy) [1/m] in the axes of azimuth 0.

    Stoney's relation in tensor form times (1 + h_f/h_s): the stress of the truth is the mean
    stress that the film carries, and to first order in h_f/h_s this factor is all that a film
    that is not thin changes, whatever its modulus (the third-order term is left out).

    Source: S. Timoshenko, J. Opt. Soc. Am. 11 (1925) 233, DOI 10.1364/JOSA.11.000233; L. B.
    Freund, J. A. Floro & E. Chason, Appl. Phys. Lett. 74 (1999) 1987, DOI 10.1063/1.123722.
    Valid for h_f/h_s < 0.1 or so and small deflections.

    Raises
    ------
    SubstrateError
        A substrate or direction that the table does not know.
    """
    force = _force_per_width(truth) * (1.0 + truth.film_thickness_m / truth.substrate_thickness_m)
    return stoney_curvature(
        reduced_pa=stiffness(truth),
        force_per_width_n_per_m=force,
        substrate_thickness_m=truth.substrate_thickness_m,
        face_sign=1 if truth.face is Face.UP else -1,
    )


def stiffness(truth: Truth) -> FloatArray:
    """Plane-stress stiffness Q of the wafer in the axes of azimuth 0 [Pa], shape (3, 3).

    Raises
    ------
    SubstrateError
        A substrate or direction that the table does not know.
    """
    cut = find_cut(truth.substrate)
    if truth.azimuth_reference is None:
        reference = default_reference(cut)
    else:
        reference = in_plane_direction(cut, truth.azimuth_reference)
    constants = stiffness_matrix(cut.system, cut.elastic_values())
    return plane_stress_stiffness(constants, cut.normal, reference.vector)


def poisson_ratio(truth: Truth) -> float:
    """Poisson's ratio of the plate's isotropic equivalent [1]."""
    q11, q12 = isotropic_equivalent(stiffness(truth))
    return q12 / q11


def curvature_change(truth: Truth, azimuth_rad: float) -> float:
    """Curvature change by the film along an azimuth [1/m], as the scanned face shows it."""
    return float(curvature_row(azimuth_rad) @ curvature_tensor(truth))


def stiffening_left_out(truth: Truth) -> float:
    """What a real plate would stiffen by, relative to the linear one drawn here [1].

    To the third order in the deflection, over the scan (`filmstress.physics.deflection`).
    """
    film = max((curvature_change(truth, a) for a in truth.azimuths_rad), key=abs)
    return deflection.linear_shortfall(
        curvature_change_per_m=film,
        curvature_before_per_m=8.0 * truth.bare_bow_m / truth.scan_length_m**2,
        wafer_radius_m=0.5 * truth.diameter_m,
        substrate_thickness_m=truth.substrate_thickness_m,
        scan_length_m=truth.scan_length_m,
        poisson_ratio=poisson_ratio(truth),
    )


def _force_per_width(truth: Truth) -> FloatArray:
    """Force per width (xx, yy, xy) [N/m] in the axes of azimuth 0 from the principal stresses."""
    along, across = truth.principal_stresses_pa
    mean, half = 0.5 * (along + across), 0.5 * (along - across)
    turn = 2.0 * truth.stress_axis_rad
    stress = (mean + half * math.cos(turn), mean - half * math.cos(turn), half * math.sin(turn))
    return truth.film_thickness_m * np.array(stress)


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """The wafer's face: height [m] over places (x, y) [m] from its centre, x along azimuth 0.

    Attributes
    ----------
    truth : Truth
        What it follows.
    waviness : RandomField
        The wafer's own; belongs to the wafer, not to a line or a scan.
    film_curvature : ndarray of float64, shape (3,)
        (xx, yy, 2 xy) [1/m].
    poisson_ratio : float
        Of the plate's isotropic equivalent [1]; a film that varies bends that one.
    """

    truth: Truth
    waviness: RandomField
    film_curvature: FloatArray
    poisson_ratio: float

    def bare(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Height before deposition [m]."""
        truth, half_scan = self.truth, 0.5 * self.truth.scan_length_m
        bowl = (x**2 + y**2) / half_scan**2
        bent = truth.bare_bow_m * (bowl + truth.bare_cubic_share * (x / half_scan) ** 3)
        return bent + self.waviness(x, y)

    def film(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Height that the film adds [m]."""
        xx, yy, twice_xy = self.film_curvature
        height: FloatArray = 0.5 * (xx * x**2 + yy * y**2 + twice_xy * x * y)
        if self.truth.film_quartic_share:
            half_scan = 0.5 * self.truth.scan_length_m
            bow = 0.25 * (xx + yy) * half_scan**2
            height += self.truth.film_quartic_share * bow * _legendre_4(np.hypot(x, y) / half_scan)
        if self.truth.film_radial_share:
            height += self.truth.film_radial_share * radial_height(
                np.hypot(x, y),
                curvature_per_m=0.5 * (xx + yy),
                poisson_ratio=self.poisson_ratio,
                wafer_radius_m=0.5 * self.truth.diameter_m,
            )
        return height


def _legendre_4(u: FloatArray) -> FloatArray:
    square = u**2
    result: FloatArray = (35.0 * square**2 - 30.0 * square + 3.0) / 8.0
    return result
