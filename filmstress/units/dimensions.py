"""Dimensions of inputs, and the closed list of unit words that each of them admits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Dimension = Literal[
    "length",
    "angle",
    "stress",
    "pressure",
    "force per length",
    "curvature",
    "density",
    "acceleration",
    "temperature",
    "expansion",
    "time",
    "power",
    "voltage",
    "current",
    "flow",
    "relative",
    "number",
]


@dataclass(frozen=True, slots=True)
class DimensionRow:
    """What is known of one dimension.

    Attributes
    ----------
    phrase : str
        How messages call it, with its article.
    si : str
        SI unit word; "1" for a pure number.
    words : tuple of str
        Unit words that are admitted; "" is a bare number.
    ladder : tuple of str
        Words that messages choose from, small to large.
    """

    phrase: str
    si: str
    words: tuple[str, ...]
    ladder: tuple[str, ...]

    @property
    def is_pure(self) -> bool:
        """Whether a bare number may stand for it."""
        return "" in self.words


_LENGTHS = (
    "pm", "nm", "um", "mm", "cm", "m", "km", "Å", "angstrom", "kÅ", "inch", "uin", "mil",
)  # fmt: skip
_STRESSES = ("Pa", "kPa", "MPa", "GPa", "dyn/cm^2", "psi", "ksi")

# A gas pressure may be written in any word of stress, but a stress not in Torr.  A word that
# stands in several rows is called by the first of them.
DIMENSIONS: dict[Dimension, DimensionRow] = {
    "length": DimensionRow("a length", "m", _LENGTHS, ("nm", "um", "mm", "m", "km")),
    "angle": DimensionRow("an angle", "rad", ("deg", "rad"), ("deg",)),
    "stress": DimensionRow("a stress", "Pa", _STRESSES, ("Pa", "kPa", "MPa", "GPa")),
    "pressure": DimensionRow(
        "a gas pressure", "Pa", (*_STRESSES, "Torr", "mTorr", "mbar"), ("Pa", "kPa", "MPa")
    ),
    "force per length": DimensionRow("a force per width", "N/m", ("N/m",), ("N/m",)),
    "curvature": DimensionRow("a curvature", "1/m", ("1/m", "1/km"), ("1/km", "1/m")),
    "density": DimensionRow("a density", "kg/m^3", ("kg/m^3", "g/cm^3"), ("kg/m^3",)),
    "acceleration": DimensionRow("an acceleration", "m/s^2", ("m/s^2",), ("m/s^2",)),
    "temperature": DimensionRow("a temperature", "K", ("degC", "K"), ("K", "degC")),
    "expansion": DimensionRow("a thermal expansion", "1/K", ("ppm/K", "1/K"), ("ppm/K",)),
    "time": DimensionRow("a time", "s", ("s", "min", "h"), ("s", "min", "h")),
    "power": DimensionRow("a power", "W", ("W", "kW"), ("W", "kW")),
    "voltage": DimensionRow("a voltage", "V", ("V",), ("V",)),
    "current": DimensionRow("a current", "A", ("A",), ("A",)),
    "flow": DimensionRow("a gas flow", "sccm", ("sccm",), ("sccm",)),
    "relative": DimensionRow("a ratio", "1", ("%", "ppm", ""), ("%",)),
    "number": DimensionRow("a pure number", "1", ("", "%", "ppm"), ("",)),
}
