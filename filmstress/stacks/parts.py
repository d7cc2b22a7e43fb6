"""What stacks are computed with: values with their terms, the plate's answer, a stress's parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from filmstress.errors import RefusedInput
from filmstress.measure.curvatures import as_estimate
from filmstress.measure.film import OPEN_RATIO
from filmstress.measure.plate import Plate, plate_of
from filmstress.measure.response import plain_response
from filmstress.measure.wafer import film_modulus
from filmstress.physics import thermal
from filmstress.physics.stack import share_of_stoney
from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Estimate, Measured, Source
from filmstress.records.stack import Layer
from filmstress.records.wafer import SubstrateSpec
from filmstress.stats.budget import combine, merge_shared, scale, term
from filmstress.substrates.catalogue import find_cut

_STEP = 1e-3


@dataclass(frozen=True, slots=True)
class Told:
    """A value and what makes it uncertain."""

    value: float
    terms: tuple[Term, ...] = ()

    def __add__(self, other: Told) -> Told:
        return Told(self.value + other.value, (*self.terms, *other.terms))

    def times(self, factor: float, *more: Term) -> Told:
        """``factor`` times it; ``more`` are terms of the factor."""
        return Told(factor * self.value, (*scale(self.terms, factor), *more))

    def budget(self) -> Budget:
        """What is shared joined, then combined."""
        return combine(merge_shared(self.terms))

    def estimate(self, unit: str) -> Estimate:
        """With its interval."""
        return as_estimate(self.value, unit, self.budget())


@dataclass(frozen=True, slots=True, eq=False)
class StackPlate:
    """The plate as the stack's lines see it.

    Attributes
    ----------
    plate : Plate
    spec : SubstrateSpec
    modulus : float
        Of a force alike in all directions over the mean curvature along the lines [Pa].
    modulus_terms : tuple of Term
        Of the modulus itself.
    """

    plate: Plate
    spec: SubstrateSpec
    modulus: float
    modulus_terms: tuple[Term, ...]

    @classmethod
    def of(cls, spec: SubstrateSpec, azimuths: Sequence[float]) -> StackPlate:
        """The plate of a substrate, scanned along some azimuths [rad]."""
        plate = plate_of(spec)
        response = plain_response(plate, np.array(azimuths))
        along = np.diag(response.row)
        modulus = float(1.0 / np.mean(1.0 / along))
        rows: dict[str, list[tuple[Measured, float]]] = {}
        for source, slope in response.slopes:
            effect = float(modulus**2 * np.mean(np.diag(slope) / along**2))
            rows.setdefault(source.row, []).append((source.measured, effect))
        terms = []
        for name, parts in rows.items():
            if len(parts) == 1:
                terms.append(term(name, *parts[0], common_to=plate.common_to))
                continue
            # Told like the measurement's own row, so that both are one quantity.
            u = math.hypot(*(effect * (measured.u or 0.0) for measured, effect in parts))
            terms.append(
                Term(
                    input=name,
                    value=modulus,
                    unit="Pa",
                    u=u,
                    sensitivity=1.0,
                    common_to=plate.common_to,
                    source=Source.TABLE,
                )
            )
        return cls(plate, spec, modulus, tuple(terms))

    @property
    def thickness(self) -> float:
        """h_s [m]."""
        return self.spec.thickness.value

    def curvature(self, force: Told) -> Told:
        """Curvature [1/m] under a signed force [N/m]: 6 N/(M h^2)."""
        told = force.times(6.0 / (self.modulus * self.thickness**2))
        return told + Told(0.0, self._terms(told.value, -1.0))

    def force(self, curvature: Told) -> Told:
        """The signed force [N/m] of a curvature [1/m]."""
        told = curvature.times(self.modulus * self.thickness**2 / 6.0)
        return told + Told(0.0, self._terms(told.value, 1.0))

    def _terms(self, value: float, power: float) -> tuple[Term, ...]:
        """Terms of a value that goes with a power of M h^2."""
        h = self.spec.thickness
        of_h = term(
            "substrate thickness",
            h,
            2.0 * power * value / h.value,
            common_to=self.spec.thickness_common_to,
        )
        return (*scale(self.modulus_terms, power * value / self.modulus), of_h)

    def share(self, layers: Sequence[Layer], index: int) -> Told:
        """How much one layer among others bends the plate, relative to Stoney's equation [1].

        The moduli of the others stand in its terms; thicknesses enter it at second order.
        """
        ratios = [self.modulus_ratio(layer) for layer in layers]

        def share(values: Sequence[float]) -> float:
            films = [
                (one.film.thickness.value, value, one.face_sign)
                for one, value in zip(layers, values, strict=True)
                if one.film.thickness is not None
            ]
            return share_of_stoney(films, index, substrate_thickness_m=self.thickness)

        values = [ratio.value for ratio in ratios]
        terms = []
        for place, (layer, ratio) in enumerate(zip(layers, ratios, strict=True)):
            if place == index or not ratio.u:
                continue
            moved = list(values)
            moved[place] += _STEP
            slope = (share(moved) - share(values)) / _STEP
            terms.append(
                term(
                    "film modulus over substrate's",
                    ratio,
                    slope,
                    common_to=layer.film.thickness_common_to,
                )
            )
        return Told(share(values), tuple(terms))

    def modulus_ratio(self, layer: Layer) -> Measured:
        """M_f / M_s, or what it may be where the layer's modulus is not stated."""
        modulus = film_modulus(layer.film)
        if modulus is None:
            return OPEN_RATIO
        return Measured(
            modulus.value / self.modulus, "1", (modulus.u or 0.0) / self.modulus, modulus.dof
        )


def times(one: Told, other: Told) -> Told:
    """Product of two told values."""
    return one.times(other.value, *scale(other.terms, one.value))


def over(one: Told, other: Told) -> Told:
    """Quotient of two told values."""
    ratio = one.value / other.value
    return one.times(1.0 / other.value, *scale(other.terms, -ratio / other.value))


def stated(name: str, measured: Measured, common_to: str = "") -> Told:
    """A stated input as a told value."""
    return Told(measured.value, (term(name, measured, 1.0, common_to=common_to),))


def stress_of(layer: Layer, *, common_to: str = "") -> Told | None:
    """The stress that a layer states, or that its recipe's recorded lots tell; None without."""
    if layer.recorded is not None:
        return Told(layer.recorded.stress.value, layer.recorded.terms)
    if layer.stress is None:
        return None
    return stated("layer stress", layer.stress, common_to)


def thermal_part(
    layer: Layer,
    substrate: SubstrateSpec,
    substrate_expansion: Measured | None,
    *,
    where: str = "",
) -> Told | None:
    """Part of a layer's stress that its cooling from deposition made [Pa]; None where not asked.

    Raises
    ------
    RefusedInput
        The substrate's expansion is not known.
    """
    modulus, expansion = film_modulus(layer.film), layer.expansion
    hot, cold = layer.deposited_at, layer.measured_at
    if modulus is None or expansion is None or hot is None or cold is None:
        return None
    span = hot.value - cold.value
    if substrate_expansion is not None:
        strain = substrate_expansion.value * span
        mean, shared, source = substrate_expansion, "substrate", "substrate expansion"
        slopes = mean.value, mean.value
    elif substrate.material and find_cut(substrate.material).material.key == "Si":
        try:
            strain = thermal.silicon_strain(hot_k=hot.value, cold_k=cold.value)
            slopes = (
                thermal.silicon_expansion(hot.value),
                thermal.silicon_expansion(cold.value),
            )
        except RefusedInput as error:
            raise RefusedInput(error.message, where=where, hint=error.hint) from None
        value = strain / span if span else slopes[0]
        mean = Measured(value, "1/K", thermal.SILICON_EXPANSION_U, source=Source.TABLE)
        shared, source = "silicon", "expansion of silicon"
    else:
        raise RefusedInput(
            "the thermal part needs the substrate's expansion, which is not stated",
            where=where,
            hint="state  expansion = '5.0 ppm/K ± 0.2 ppm/K'  in [substrate]",
        )
    mismatch = thermal.mismatch_strain(
        film_expansion_per_k=expansion.value,
        substrate_strain=strain,
        deposited_at_k=hot.value,
        now_k=cold.value,
    )
    m = modulus.value
    own = layer.film.thickness_common_to
    return Told(
        thermal.thermal_stress(film_modulus_pa=m, mismatch_strain=mismatch),
        (
            term("film modulus", modulus, mismatch, common_to=own),
            term("film expansion", expansion, m * span, common_to=own),
            term(source, mean, -m * span, common_to=shared),
            term("deposition temperature", hot, m * (expansion.value - slopes[0]), common_to=own),
            term("temperature of the scan", cold, -m * (expansion.value - slopes[1])),
        ),
    )
