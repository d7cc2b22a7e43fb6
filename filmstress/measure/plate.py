"""The substrate as a plate: its plane-stress stiffness, and what makes that uncertain."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import SubstrateError
from filmstress.physics import elasticity
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.wafer import SubstrateSpec
from filmstress.substrates.catalogue import (
    Cut,
    Direction,
    default_reference,
    find_cut,
    in_plane_direction,
    tilted,
)

Floats = NDArray[np.float64]

# A small miscut makes any cut depend on azimuth a little; beyond this share the direction of the
# scan must be stated.
UNSTATED_SPREAD = 0.01

# A stated biaxial modulus alone leaves Poisson's ratio open; it matters between azimuths only.
_OPEN_POISSON = Measured(0.25, "1", 0.08, shape=Shape.RECTANGULAR, source=Source.DEFAULT)


@dataclass(frozen=True, slots=True, eq=False)
class PlateInput:
    """One constant behind the stiffness.

    Attributes
    ----------
    row : str
        Budget row it belongs to; constants of one row are combined.
    measured : Measured
        Its value.
    derivative : ndarray, shape (3, 3)
        dQ / d(constant) [Pa / unit].
    symbol : str
        Its symbol in the substrate table, where it is from there.
    """

    row: str
    measured: Measured
    derivative: Floats
    symbol: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """Plane-stress stiffness of the wafer in the axes of azimuth 0.

    Attributes
    ----------
    label : str
        "Si(001)" or "stated constants".
    reduced : ndarray, shape (3, 3)
        Q [Pa].
    inputs : tuple of PlateInput
        What makes Q uncertain.
    common_to : str
        What shares these constants.
    edition : str
        Of the substrate table.
    sources : tuple of str
        Citations of the constants.
    reference_assumed : str
        In-plane direction assumed for azimuth 0 where none was stated, else "".
    density : float or None
        [kg/m^3].
    """

    label: str
    reduced: Floats
    inputs: tuple[PlateInput, ...]
    common_to: str
    edition: str
    sources: tuple[str, ...]
    reference_assumed: str
    density: float | None


def plate_of(spec: SubstrateSpec) -> Plate:
    """The plate that a substrate's statement describes.

    Raises
    ------
    SubstrateError
        If the material, cut or direction is not known, or if the cut bends differently with
        azimuth and no azimuth reference is stated.
    """
    if spec.material is None:
        return _stated_plate(spec)
    cut = find_cut(spec.material)
    if spec.azimuth_reference is not None:
        reference, assumed = in_plane_direction(cut, spec.azimuth_reference), ""
    else:
        reference = default_reference(cut)
        assumed = reference.label if cut.system != "isotropic" else ""
    untilted = cut
    if spec.miscut is not None:
        cut = tilted(cut, miscut_rad=spec.miscut.value, toward=reference)
    stiffness = elasticity.stiffness_matrix(cut.system, cut.elastic_values())
    reduced = elasticity.plane_stress_stiffness(stiffness, cut.normal, reference.vector)
    if assumed and elasticity.azimuth_spread(reduced) > UNSTATED_SPREAD:
        raise SubstrateError(
            f"{spec.material} bends differently with azimuth "
            f"(by {100 * elasticity.azimuth_spread(reduced):.0f} %), and the direction of the "
            "0 deg scan "
            "is not stated",
            where="azimuth_reference",
            hint=f"state the crystal direction of the 0 deg scan, for example '{assumed}'",
        )
    inputs = _table_inputs(cut, reference, stiffness, reduced)
    if spec.miscut is not None and spec.miscut.u:
        inputs = (*inputs, _miscut_input(spec.miscut, untilted, reference, stiffness))
    elastic = cut.elastic.values()
    return Plate(
        label=cut.label,
        reduced=reduced,
        inputs=inputs,
        common_to=f"table {cut.material.key}",
        edition=cut.edition,
        sources=tuple(dict.fromkeys(constant.source for constant in elastic)),
        reference_assumed=assumed,
        density=cut.density.value,
    )


def _table_inputs(
    cut: Cut, reference: Direction, stiffness: Floats, reduced: Floats
) -> tuple[PlateInput, ...]:
    derivatives = elasticity.plane_stress_stiffness_derivatives(
        stiffness,
        elasticity.stiffness_derivatives(cut.system, cut.elastic_values()),
        cut.normal,
        reference.vector,
    )
    inputs = [
        PlateInput("substrate modulus", constant.measured(), derivatives[symbol], symbol)
        for symbol, constant in cut.elastic.items()
    ]
    if (stiffening := cut.stiffening) is not None:
        inputs.append(PlateInput("substrate modulus", stiffening.measured(), reduced, "stiffening"))
    return tuple(inputs)


def _miscut_input(
    miscut: Measured, cut: Cut, reference: Direction, stiffness: Floats
) -> PlateInput:
    step = math.radians(0.1)
    low, high = (
        elasticity.plane_stress_stiffness(
            stiffness,
            tilted(cut, miscut_rad=miscut.value + sign * step, toward=reference).normal,
            reference.vector,
        )
        for sign in (-1.0, 1.0)
    )
    return PlateInput("miscut", miscut, (high - low) / (2.0 * step))


def _stated_plate(spec: SubstrateSpec) -> Plate:
    if spec.modulus is not None:
        stated = {
            "substrate modulus": spec.modulus,
            "substrate Poisson's ratio": spec.poisson_ratio or _OPEN_POISSON,
        }

        def reduced_of(modulus: float, poisson: float) -> Floats:
            return elasticity.isotropic_plane_stress(
                youngs_modulus_pa=modulus * (1.0 - poisson), poisson_ratio=poisson
            )
    else:
        if spec.youngs_modulus is None or spec.poisson_ratio is None:
            raise SubstrateError(
                "neither a material nor its constants are stated",
                where="substrate",
                hint="name material and cut, 'Si(001)', or state Young's modulus and Poisson's "
                "ratio",
            )
        stated = {
            "substrate Young's modulus": spec.youngs_modulus,
            "substrate Poisson's ratio": spec.poisson_ratio,
        }

        def reduced_of(modulus: float, poisson: float) -> Floats:
            return elasticity.isotropic_plane_stress(
                youngs_modulus_pa=modulus, poisson_ratio=poisson
            )

    first, second = (measured.value for measured in stated.values())
    steps = (1e-6 * first, 1e-6)
    slopes = (
        (reduced_of(first + steps[0], second) - reduced_of(first - steps[0], second))
        / (2.0 * steps[0]),
        (reduced_of(first, second + steps[1]) - reduced_of(first, second - steps[1]))
        / (2.0 * steps[1]),
    )
    return Plate(
        label="stated constants",
        reduced=reduced_of(first, second),
        inputs=tuple(
            PlateInput(row, measured, slope)
            for (row, measured), slope in zip(stated.items(), slopes, strict=True)
        ),
        common_to="stated substrate constants",
        edition="",
        sources=(),
        reference_assumed="",
        density=None if spec.density is None else spec.density.value,
    )
