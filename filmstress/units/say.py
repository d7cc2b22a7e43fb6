"""Quantities in messages.  Results are rounded by their uncertainty elsewhere, not here."""

from __future__ import annotations

import math

from filmstress.units.dimensions import DIMENSIONS, Dimension
from filmstress.units.registry import scale
from filmstress.units.words import convert


def plain(value: float, digits: int = 4) -> str:
    """``value`` to so many significant digits; with an exponent only far from ordinary sizes."""
    text = f"{value:.{digits}g}"
    if value == 0.0 or not math.isfinite(value):
        return text.removeprefix("-") if value == 0.0 else text
    if 1e-4 <= abs(value) < 1e6 and "e" in text:
        return f"{float(text):.0f}"
    return text.replace("e+0", "e").replace("e+", "e").replace("e-0", "e-")


def say(value_si: float, word: str, digits: int = 4) -> str:
    """An SI value in the unit ``word``: ``say(5.25e-4, "um")`` is "525 um"."""
    number = plain(convert(value_si, _si_of(word), word), digits)
    return f"{number} {word}" if word else number


def readable(value_si: float, dimension: Dimension, digits: int = 4) -> str:
    """An SI value in the unit in which its number reads best: "525 um", "180 GPa"."""
    ladder = DIMENSIONS[dimension].ladder
    reached = [word for word in ladder if abs(value_si) >= scale(word).factor * (1 - 1e-12)]
    fallback = DIMENSIONS[dimension].si if value_si == 0.0 else ladder[0]
    return say(value_si, reached[-1] if reached else fallback.replace("1", "", 1)
        if fallback == "1" else (reached[-1] if reached else fallback), digits)
