"""Cells of a wafer table: the unit of the column's head, decimal commas, the ± of its own column.

A table as a spreadsheet writes it where the comma is the decimal mark has semicolons or tabs
between its cells.  Its commas are taken for decimal marks only where nothing else is possible.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

_NUMBER = r"[+\-\u2212]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:\([0-9]+\))?(?:[eE][+-]?[0-9]+)?"
_BARE = re.compile(rf"({_NUMBER})\s*(\([^0-9()][^()]*\))?")
_BETWEEN = re.compile(r"(±|\+/-|\.\.)")
# Begins only where the number does, so that a long one is passed over once.
_WITH_MARKS = re.compile(r"(?<![0-9.,])[0-9]*[.,][0-9.,]*[0-9]")
_COMMA = re.compile(r"(?<=[0-9]),(?=[0-9])")


def with_unit(cell: str, unit: str) -> str:
    """A cell whose bare numbers carry the unit of the column's head.

    "503" under [nm] is "503 nm", "503 ± 3" is "503 nm ± 3 nm", "-30..30" under [mm] is
    "-30 mm..30 mm"; a number that has a unit of its own keeps it.
    """
    if not unit:
        return cell
    parts = [part.strip() for part in _BETWEEN.split(cell)]
    for i in range(0, len(parts), 2):
        if bare := _BARE.fullmatch(parts[i]):
            number, options = bare.groups()
            parts[i] = f"{number} {unit}" + (f" {options}" if options else "")
    return "".join(f" {part} " if part in ("±", "+/-") else part for part in parts)


def with_spread(cell: str, spread: str) -> str:
    """A value and the standard uncertainty that stands in the column beside it."""
    return f"{cell} ± {spread}"


def has_decimal_commas(cells: Iterable[str]) -> bool:
    """Whether the commas inside the numbers of these cells can only be decimal marks.

    True if no number has a decimal point and at least one could not be a number with separators
    of thousands ("503,2", "0,125").  Where that stays open, or points and commas are mixed, the
    cells are left for the reader of quantities, who refuses them.
    """
    parts = [part for cell in cells for part in cell.split("..")]
    numbers = [found.group() for part in parts for found in _WITH_MARKS.finditer(part)]
    if any("." in number for number in numbers):
        return False
    return any(number.count(",") == 1 and not _could_be_thousands(number) for number in numbers)


def _could_be_thousands(number: str) -> bool:
    whole, _, rest = number.partition(",")
    return len(rest) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0")


def with_decimal_points(cell: str) -> str:
    """The cell with its decimal commas turned into points."""
    return _COMMA.sub(".", cell)
