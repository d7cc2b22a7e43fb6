"""Moduli of one cut of the substrate table: what a wafer of it answers to a film."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.plate import Plate, plate_of
from filmstress.physics import elasticity
from filmstress.records.quantity import Measured
from filmstress.records.wafer import SubstrateSpec
from filmstress.substrates.catalogue import Cut, default_reference, find_cut, in_plane_direction

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class DirectionalModulus:
    """Modulus [Pa] that a scan along one azimuth [rad] sees under an equibiaxial force."""

    azimuth: float
    modulus: float
    u: float


@dataclass(frozen=True, slots=True, eq=False)
class CutModuli:
    """A cut and its elastic answer.

    Attributes
    ----------
    cut : Cut
    reference : str
        In-plane direction of azimuth 0.
    stiffness : ndarray, shape (3, 3)
        Plane-stress stiffness Q in the axes of azimuth 0 [Pa].
    biaxial : DirectionalModulus or None
        The biaxial modulus, where the cut bends alike in all directions.
    by_azimuth : tuple of DirectionalModulus
        Where it does not: every 15 deg.
    """

    cut: Cut
    reference: str
    stiffness: Floats
    biaxial: DirectionalModulus | None
    by_azimuth: tuple[DirectionalModulus, ...]


def cut_moduli(name: str, azimuth_reference: str | None = None) -> CutModuli:
    """Moduli of a cut such as "Si(111)".

    Raises
    ------
    SubstrateError
        If the name or the direction is not known.
    """
    cut = find_cut(name)
    if azimuth_reference is None:
        reference = default_reference(cut)
    else:
        reference = in_plane_direction(cut, azimuth_reference)
    spec = SubstrateSpec(
        material=name,
        thickness=Measured(1.0, "m", 0.0),
        azimuth_reference=reference.label if cut.system != "isotropic" else None,
    )
    plate = plate_of(spec)
    if elasticity.response_depends_on_azimuth(plate.reduced):
        azimuths = np.radians(np.arange(0.0, 180.0, 15.0))
        by_azimuth = tuple(_along(plate, float(azimuth)) for azimuth in azimuths)
        return CutModuli(cut, reference.label, plate.reduced, None, by_azimuth)
    return CutModuli(cut, reference.label, plate.reduced, _along(plate, 0.0), ())


def _along(plate: Plate, azimuth: float) -> DirectionalModulus:
    def modulus_of(reduced: Floats) -> float:
        return elasticity.directional_modulus(elasticity.rotate_reduced(reduced, azimuth))

    parts = []
    for part in plate.inputs:
        step = (part.measured.u or 0.0) * part.derivative
        parts.append(0.5 * (modulus_of(plate.reduced + step) - modulus_of(plate.reduced - step)))
    return DirectionalModulus(azimuth, modulus_of(plate.reduced), math.hypot(*parts))
