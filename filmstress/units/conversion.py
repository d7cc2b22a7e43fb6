"""Numbers between a known unit word and SI, as exact fractions that are rounded once."""

from __future__ import annotations

import math
from fractions import Fraction

from filmstress.units.registry import scale
from filmstress.units.spelling import canonical


def rounded(exact: Fraction) -> float:
    """Nearest float; infinite where there is none."""
    try:
        return float(exact)
    except OverflowError:
        return math.copysign(math.inf, exact)


def to_si(number: Fraction, word: str) -> Fraction:
    """SI value of ``number`` in a unit word."""
    unit = scale(canonical(word))
    return number * unit.factor + unit.offset


def from_si(value_si: Fraction, word: str) -> Fraction:
    """Number of an SI value in a unit word."""
    unit = scale(canonical(word))
    return (value_si - unit.offset) / unit.factor
