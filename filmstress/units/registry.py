"""Scales of unit words, from our own definitions file.  The only file that imports pint.

Factors are exact fractions, so that "525 um", "0.525 mm" and "5.25e-4 m" are the same float.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from filmstress.units.scales import Scale, kept_scales

_DEFINITIONS = Path(__file__).with_name("units.txt")

# Words that are not identifiers, as pint takes them.
_AS_PINT = {"": "dimensionless", "1": "dimensionless", "%": "percent"}


@cache
def registry() -> Any:
    """Build the pint registry of our words, on first use: pint is slow to import."""
    import pint

    lines = _DEFINITIONS.read_text(encoding="utf-8").splitlines()
    built: Any = pint.UnitRegistry(None, non_int_type=Fraction)
    # Loading into an empty registry spares pint its look-ahead cache: 3 ms instead of 7.
    built.load_definitions([line for line in lines if line and not line.startswith("#")])
    return built


def scale(word: str) -> Scale:
    """Look up a word in its canonical spelling; ask only for words of ``dimensions``."""
    return kept_scales()[word]


def worked_out(word: str) -> Scale:
    """The scale of a word as our definitions have it."""
    expression = _AS_PINT.get(word, word.replace("^", "**"))
    quantity = registry().Quantity
    zero, one = (
        Fraction(quantity(Fraction(n), expression).to_root_units().magnitude) for n in (0, 1)
    )
    return Scale(factor=one - zero, offset=zero)


def long_name(word: str) -> str:
    """Give the full name of a simple word ("A": "ampere"); "" where there is no other."""
    if not word.isidentifier():
        return ""
    name = str(registry().get_name(word))
    return "" if name == word else name.replace("_", " ")
