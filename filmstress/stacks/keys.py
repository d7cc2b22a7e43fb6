"""Keys that a stack file knows besides those of `filmstress.inputs.keys`."""

from __future__ import annotations

import math

from filmstress.inputs.defaults import Default
from filmstress.inputs.keys import Key, keys_of
from filmstress.inputs.readers import Quantity
from filmstress.units.kinds import Kind

_EXPANSION = Quantity(Kind("thermal expansion", "expansion", -1e-4, 5e-4, "2.6 ppm/K ± 0.2 ppm/K"))

STRESS = Key(
    "layer",
    "stress",
    Quantity(Kind("layer stress", "stress", -2e10, 2e10, "-300 MPa ± 15 MPa")),
    "Stress of a layer that is not measured, as it is carried after its own deposition.",
    "stress",
)
EXPANSION = Key("layer", "expansion", _EXPANSION, "Mean linear expansion of the film.", "expansion")
DEPOSITED_AT = Key(
    "layer",
    "deposited_at",
    Quantity(Kind("deposition temperature", "temperature", 77.0, 2500.0, "400 degC ± 10 degC")),
    "Temperature of the wafer at deposition.",
    "deposited_at",
)
MEASURED_AT = Key(
    "layer",
    "measured_at",
    Quantity(Kind("temperature of the scan", "temperature", 77.0, 1300.0, "22 degC ± 1 degC")),
    "Temperature of the wafer when it was scanned.",
    "measured_at",
)
SUBSTRATE_EXPANSION = Key(
    "substrate",
    "expansion",
    _EXPANSION,
    "Mean linear expansion of a substrate that is not silicon.",
    "substrate_expansion",
)
LENGTH = Key(
    "scan",
    "length",
    Quantity(Kind("scan length", "length", 1e-3, 0.5, "120 mm")),
    "Length of the scan that bows are told over.",
    "length",
)
TARGET_BOW = Key(
    "balance",
    "target_bow",
    Quantity(Kind("target bow", "length", -5e-3, 5e-3, "0 um")),
    "Bow that is wanted, over the scan.",
    "target_bow",
)

OWN_OF_LAYER = {key.name: key for key in (STRESS, EXPANSION, DEPOSITED_AT, MEASURED_AT)}
# A layer is one film on one face.
OF_FILM = tuple(name for name in keys_of("film") if name != "faces")

DEFAULTS = {
    "layer.stress": Default(0.05, True, False, "default ± 5 %"),
    "layer.expansion": Default(0.1, True, False, "default ± 10 %"),
    "layer.deposited_at": Default(10.0, False, True, "default ± 10 K (limits)"),
    "layer.measured_at": Default(2.0, False, True, "default ± 2 K (limits)"),
    "substrate.expansion": Default(0.1, True, False, "default ± 10 %"),
    "balance.target_bow": Default(0.0, False, False, "taken as exact"),
}

ROOM_K = 295.15
SAME_LINE_RAD = math.radians(3.0)
