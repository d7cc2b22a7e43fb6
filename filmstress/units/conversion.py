"""Numbers between a known unit word and SI, as exact fractions that are rounded once."""

from __future__ import annotations

import math
from fractions import Fraction

from filmstress.units.registry import scale
from filmstress.units.spelling import canonical


def rounded(exact: Fraction) -> float:
    """Round to the nearest float; to infinity where there is none."""
    try:
        return float(exact)
    except OverflowError:
        return math.inf if exact > 0 else -math.inf


def to_si(number: Fraction, word: str) -> Fraction:
    """Convert ``number`` in a unit word to SI."""
    unit = scale(canonical(word))
    return number * unit.factor + unit.offset


def from_si(value_si: Fraction, word: str) -> Fraction:
    """Convert an SI value to its number in a unit word."""
    unit = scale(canonical(word))
    return (value_si - unit.offset) / unit.factor
