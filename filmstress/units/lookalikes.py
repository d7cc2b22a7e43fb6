"""Words that look like a unit and are none here: what they are, and what may have been meant.

Nothing in this table is ever read as a quantity; it only makes the refusal helpful.
"""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.units.dimensions import Dimension

# Numbers to write for one of the look-alike, and the unit word to write them in.
Repair = tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class LookAlike:
    """What a word is ("" where it is a known word of another dimension) and its repairs."""

    what: str
    repairs: dict[Dimension, Repair]


def _length(what: str, *repair: tuple[float, str]) -> LookAlike:
    return LookAlike(what, {"length": repair})


_INCH = _length("not the word used here for an inch", (1, "inch"))
_MICRON = _length("a name, not a unit word", (1, "um"))
_BARE_SLASH = "a unit without its 1, which runs into the number before it"

LOOKALIKES: dict[str, LookAlike] = {
    # Length.
    "A": _length("", (1, "angstrom"), (0.1, "nm")),
    "kA": _length("a current (kA = kiloampere)", (1, "kÅ"), (100, "nm")),
    "Mm": _length("a thousand kilometres (Mm = megametre)", (1, "mm")),
    "micron": _MICRON,
    "microns": _MICRON,
    "mu": _MICRON,
    "u": _MICRON,
    "mils": _length("not the word used here", (1, "mil")),
    "thou": _length("not the word used here for a thousandth of an inch", (1, "mil")),
    "in": _INCH,
    "in.": _INCH,
    "inches": _INCH,
    '"': _INCH,
    "″": _INCH,
    "”": _INCH,
    "''": _INCH,
    "'": _length("a foot or a minute of arc", (12, "inch")),
    "′": _length("a foot or a minute of arc", (12, "inch")),
    "ft": _length("a foot, which is not used here", (12, "inch")),
    # Stress, pressure, force per width.
    "mPa": LookAlike(
        "a thousandth of a pascal (mPa = millipascal)",
        {"stress": ((1, "MPa"),), "pressure": ((1e-3, "Pa"),)},
    ),
    "M": LookAlike(
        "no unit by itself (mega, molar or metre)",
        {"stress": ((1, "MPa"),), "length": ((1, "m"),)},
    ),
    "G": LookAlike("no unit by itself (giga of what?)", {"stress": ((1, "GPa"),)}),
    "k": LookAlike(
        "no unit by itself (kilo of what?)",
        {"stress": ((1, "kPa"),), "temperature": ((1, "K"),)},
    ),
    "TPa": LookAlike("a unit that is not used here", {"stress": ((1000, "GPa"),)}),
    "mb": LookAlike(
        "no unit here (a millibar or a millibarn)",
        {"pressure": ((1, "mbar"),), "stress": ((100, "Pa"),)},
    ),
    "bar": LookAlike(
        "a unit that is not used here",
        {"pressure": ((1000, "mbar"),), "stress": ((0.1, "MPa"),)},
    ),
    "hPa": LookAlike(
        "a unit that is not used here",
        {"pressure": ((1, "mbar"),), "stress": ((0.1, "kPa"),)},
    ),
    "mT": LookAlike("a magnetic flux density (mT = millitesla)", {"pressure": ((1, "mTorr"),)}),
    "N": LookAlike("a force (N = newton)", {"force per length": ((1, "N/m"),)}),
    "mN/m": LookAlike("a unit that is not used here", {"force per length": ((1e-3, "N/m"),)}),
    "kN/m": LookAlike("a unit that is not used here", {"force per length": ((1000, "N/m"),)}),
    "N/mm": LookAlike(
        "a force per width in a unit that is not used here",
        {"force per length": ((1000, "N/m"),)},
    ),
    "dyn/cm": LookAlike(
        "a force per width in a unit that is not used here",
        {"force per length": ((1e-3, "N/m"),), "stress": ((1, "dyn/cm^2"),)},
    ),
    "N/m^2": LookAlike("a unit that is not used here", {"stress": ((1, "Pa"),)}),
    "N/mm^2": LookAlike("a unit that is not used here", {"stress": ((1, "MPa"),)}),
    "dynes/cm^2": LookAlike("not the word used here", {"stress": ((1, "dyn/cm^2"),)}),
    "dyne/cm^2": LookAlike("not the word used here", {"stress": ((1, "dyn/cm^2"),)}),
    # Mass and density.
    "kg": LookAlike("a mass (kg = kilogram)", {"density": ((1, "kg/m^3"),)}),
    "g": LookAlike("a mass (g = gram)", {"density": ((1, "g/cm^3"),)}),
    "g/cc": LookAlike("not the word used here", {"density": ((1, "g/cm^3"),)}),
    # Curvature and expansion.
    "1/cm": LookAlike("a unit that is not used here", {"curvature": ((100, "1/m"),)}),
    "1/mm": LookAlike("a unit that is not used here", {"curvature": ((1000, "1/m"),)}),
    "/m": LookAlike(_BARE_SLASH, {"curvature": ((1, "1/m"),)}),
    "/km": LookAlike(_BARE_SLASH, {"curvature": ((1, "1/km"),)}),
    "/K": LookAlike(_BARE_SLASH, {"expansion": ((1, "1/K"),)}),
    "ppm/degC": LookAlike("not the word used here", {"expansion": ((1, "ppm/K"),)}),
    "ppm/C": LookAlike("an expansion per coulomb", {"expansion": ((1, "ppm/K"),)}),
    "ppm": LookAlike("", {"expansion": ((1, "ppm/K"),)}),
    # Temperature, time, angle, flow, ratio.
    "C": LookAlike("an electric charge (C = coulomb)", {"temperature": ((1, "degC"),)}),
    "deg": LookAlike("", {"temperature": ((1, "degC"),)}),
    "celsius": LookAlike("not the word used here", {"temperature": ((1, "degC"),)}),
    "sec": LookAlike("not the word used here", {"time": ((1, "s"),)}),
    "hr": LookAlike("not the word used here", {"time": ((1, "h"),)}),
    "hrs": LookAlike("not the word used here", {"time": ((1, "h"),)}),
    "\u00ba": LookAlike("an ordinal sign, not a degree sign", {"angle": ((1, "deg"),)}),
    "mrad": LookAlike("a unit that is not used here", {"angle": ((1e-3, "rad"),)}),
    "slm": LookAlike("a unit that is not used here", {"flow": ((1000, "sccm"),)}),
    "mA": LookAlike("a unit that is not used here", {"current": ((1e-3, "A"),)}),
    "kV": LookAlike("a unit that is not used here", {"voltage": ((1000, "V"),)}),
    "percent": LookAlike(
        "not the word used here", {"number": ((1, "%"),), "relative": ((1, "%"),)}
    ),
    "\u2030": LookAlike(
        "a unit that is not used here", {"number": ((0.1, "%"),), "relative": ((0.1, "%"),)}
    ),
}
