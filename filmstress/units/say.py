"""Quantities in messages.  Results are rounded by their uncertainty elsewhere, not here."""

from __future__ import annotations

import math
from fractions import Fraction

from filmstress.units.conversion import from_si, rounded
from filmstress.units.dimensions import DIMENSIONS, Dimension
from filmstress.units.registry import scale


def plain(value: float, digits: int = 4) -> str:
    """Write significant digits; with an exponent only far from ordinary sizes."""
    text = f"{value + 0.0:.{digits}g}"
    if "e" not in text:
        return text
    if 1e-4 <= abs(value) < 1e6:
        return f"{float(text):.0f}"
    mantissa, exponent = text.split("e")
    return f"{mantissa}e{int(exponent)}"


def say(value_si: float, word: str, digits: int = 4) -> str:
    """Write an SI value in the unit ``word``: ``say(5.25e-4, "um")`` is "525 um"."""
    finite = math.isfinite(value_si)
    number = rounded(from_si(Fraction(value_si), word)) if finite else value_si
    return plain(number, digits) + (f" {word}" if word not in ("", "1") else "")


def readable(value_si: float, dimension: Dimension, digits: int = 4) -> str:
    """Write an SI value in the unit in which its number reads best: "525 um", "180 GPa"."""
    row = DIMENSIONS[dimension]
    if value_si == 0.0 and row.si in row.ladder:
        return say(value_si, row.si, digits)
    # The slack lets 1e-6 m, a float just below the exact micrometre, be 1 um.
    reached = [word for word in row.ladder if abs(value_si) >= 0.999999 * scale(word).factor]
    return say(value_si, reached[-1] if reached else row.ladder[0], digits)
