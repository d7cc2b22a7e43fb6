"""The one table of default uncertainties: filmstress's own cautious choices.

A default is used where an input is stated without an uncertainty; every use is printed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from filmstress.records.quantity import Measured, Shape

THREE_INCH_M = 0.0763


@dataclass(frozen=True, slots=True)
class Default:
    """Default uncertainty of an input.

    ``spread`` is a standard uncertainty, or the half-width between limits where ``limits``;
    relative to the value where ``relative``, else in SI units.  A spread of 0 takes the value as
    exact.
    """

    spread: float
    relative: bool
    limits: bool
    words: str

    def apply(self, measured: Measured) -> Measured:
        """The quantity with this default where it has no uncertainty of its own."""
        spread = self.spread * (abs(measured.value) if self.relative else 1.0)
        shape = Shape.RECTANGULAR if self.limits else Shape.NORMAL
        return measured.with_default(
            u=spread / math.sqrt(3.0) if self.limits else spread,
            shape=shape if spread else Shape.EXACT,
            read_as=self.words,
        )


DEFAULTS: dict[str, Default] = {
    "substrate.thickness": Default(20e-6, False, True, "default ± 20 um (limits)"),
    "substrate.modulus": Default(0.05, True, False, "default ± 5 %"),
    "substrate.youngs_modulus": Default(0.05, True, False, "default ± 5 %"),
    "substrate.poisson_ratio": Default(0.05, True, False, "default ± 5 %"),
    "substrate.density": Default(0.01, True, False, "default ± 1 %"),
    "substrate.miscut": Default(0.0, False, False, "taken as exact"),
    "film.thickness": Default(0.05, True, True, "default ± 5 % (limits)"),
    "film.thickness_profile": Default(0.03, False, True, "default ± 3 % (limits)"),
    "film.modulus": Default(0.05, True, False, "default ± 5 %"),
    "film.youngs_modulus": Default(0.05, True, False, "default ± 5 %"),
    "film.poisson_ratio": Default(0.05, True, False, "default ± 5 %"),
    "scan.azimuth": Default(math.radians(1.0), False, False, "default ± 1 deg"),
    # From the equator to the poles, and up to two kilometres high.
    "scan.gravity": Default(0.03, False, True, "default ± 0.03 m/s^2 (limits)"),
    "scan.offset": Default(0.0, False, False, "taken as exact"),
}

SMALL_WAFER_THICKNESS = Default(25e-6, False, True, "default ± 25 um (limits)")

# Of a support that the wafer's weight is to be told from; elsewhere its radius hardly matters.
WEIGHING_RADIUS = Default(0.5e-3, False, True, "default ± 0.5 mm (limits)")

# Elsewhere it hardly matters; the weight's curvature goes with its square.
WEIGHING_DIAMETER = Default(0.2e-3, False, True, "default ± 0.2 mm (limits)")

# No cautious guess fits every wafer, and no interval holds without one.
MUST_BE_STATED = ("scan.bare_bow",)

# Standard uncertainties of scale factors, by the name of the scale.
SCALE_UNCERTAINTIES = {"position_scale": 0.001, "height_scale": 0.005}

# Stated as lengths; where nothing is stated they are taken as zero, and the output says so.
REPEATABILITIES = ("bow_repeatability", "offset_repeatability", "line_repeatability")


def thickness_default(diameter_m: float | None) -> Default:
    """Default for a substrate thickness: wider on wafers up to 3 inch, where it is stated."""
    if diameter_m is not None and diameter_m <= THREE_INCH_M:
        return SMALL_WAFER_THICKNESS
    return DEFAULTS["substrate.thickness"]
