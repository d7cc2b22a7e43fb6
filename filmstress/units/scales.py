"""Scales of unit words as pint worked them out from our definitions, kept beside them.

Loading pint takes as long as measuring a pair of scans, so a run looks its words up in
``scales.csv``.  ``python -m filmstress.units.scales`` writes that file anew after a change of
``units.txt``; a test holds the two equal.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

_TABLE = Path(__file__).with_name("scales.csv")


@dataclass(frozen=True, slots=True)
class Scale:
    """SI value = number x factor + offset; a difference has no offset."""

    factor: Fraction
    offset: Fraction


@cache
def kept_scales() -> dict[str, Scale]:
    """Every admitted or SI word in its canonical spelling, and its scale."""
    lines = _TABLE.read_text(encoding="utf-8").splitlines()[1:]
    rows = (line.rsplit(",", 2) for line in lines)
    return {word: Scale(Fraction(factor), Fraction(offset)) for word, factor, offset in rows}


def _write() -> None:
    from filmstress.units.dimensions import DIMENSIONS
    from filmstress.units.registry import worked_out

    words = sorted({word for row in DIMENSIONS.values() for word in (*row.words, row.si)})
    scales = ((word, worked_out(word)) for word in words)
    lines = ["word,factor,offset", *(f"{word},{one.factor},{one.offset}" for word, one in scales)]
    _TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    _write()
