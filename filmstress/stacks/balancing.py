"""The thickness of one more layer that brings the wafer to the bow that is wanted."""

from __future__ import annotations

from dataclasses import replace

from filmstress.errors import RefusedInput
from filmstress.physics.stack import balancing_thickness
from filmstress.records.quantity import Measured, Shape
from filmstress.records.stack import Balance, BalanceFound, Layer
from filmstress.stacks.parts import StackPlate, over, stated, stress_of, times
from filmstress.stacks.walk import Walk

# The layer's own thickness enters its share of the bending; each round gains h_f/h_s.
_ROUNDS = 4


def balance_of(balance: Balance, plate: StackPlate, walk: Walk) -> BalanceFound | None:
    """The balancing layer's thickness [m] and the bow with it; None where the bow is not known.

    The layer is taken as exactly as thick as told: its interval says how sure the thickness is,
    and the bow's how far from the target the wafer may then be.
    """
    now, layer = walk.curvature, balance.layer
    stress = stress_of(layer, common_to="balancing layer")
    if now is None or stress is None:
        return None
    target = stated("target bow", balance.target).times(1.0 / walk.measurements.arm)
    thickness = 0.0
    for _ in range(_ROUNDS):
        share = plate.share([*walk.layers, _made(layer, thickness)], len(walk.layers))
        try:
            thickness = balancing_thickness(
                modulus_pa=plate.modulus,
                substrate_thickness_m=plate.thickness,
                forces=(),
                stress_pa=stress.value * share.value,
                face_sign=layer.face_sign,
                target_per_m=target.value,
                bare_per_m=now.value,
            )
        except RefusedInput as refusal:
            return BalanceFound(balance, None, None, None, f"{refusal.message}; {refusal.hint}")
    needed = plate.force(target + now.times(-1.0)).times(layer.face_sign)
    told = over(over(needed, stress), share)
    bow = now + plate.curvature(times(stress, share).times(layer.face_sign * thickness))
    return BalanceFound(balance, told.estimate("m"), walk.bow(bow), told.budget())


def _made(layer: Layer, thickness: float) -> Layer:
    made = Measured(thickness, "m", 0.0, shape=Shape.EXACT)
    return replace(layer, film=replace(layer.film, thickness=made))
