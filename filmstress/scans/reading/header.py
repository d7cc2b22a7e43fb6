"""What the lines above the table say: names and units of the columns, the sampling interval."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from filmstress.errors import ScanError
from filmstress.scans.reading import numerals
from filmstress.scans.reading.cells import (
    BLANKS,
    COMMA,
    SEMICOLON,
    TAB,
    split,
    without_comment_mark,
)
from filmstress.scans.reading.layout import Layout
from filmstress.scans.reading.names import Axis, axis_of, read_name, words_of
from filmstress.units.words import dimension_of, is_unit_word

_UNIT = {"unit", "units"}
_UNIT_FILLERS = {"of", "in", "for", "the", "axis", "data", "column", "value", "values"}
_STEP = {"interval", "step", "spacing", "increment", "pitch", "dx"}
_STEP_FILLERS = {
    "sampling", "sample", "samples", "point", "points", "x", "position", "data", "lateral",
    "scan", "size", "distance", "measurement", "of", "the", "between",
}  # fmt: skip
_KEY_AND_VALUE = re.compile(r"([^:=]+)[:=](.+)")
_VALUE_AND_UNIT = re.compile(r"(\S*[0-9.,])\s*([^\s0-9].*)?")
# Begins only where a word does: a long line is passed over once, not once from every letter.
_BRACKETED_PAIR = re.compile(
    r"(?<![^\s\[\]()])[^\s\[(]+(?:[ \t]*/[ \t]*\S+|[ \t]*[\[(][^\])]{0,80}[\])])"
)
_RULER = re.compile(r"[\W_]*")


@dataclass(frozen=True, slots=True)
class Claim:
    """A unit word and the line it stands in."""

    word: str
    line: int


@dataclass(frozen=True, slots=True)
class Interval:
    """A stated sampling interval: number and unit as written ("" for none), and its line."""

    number: str
    unit: str
    line: int


@dataclass(slots=True)
class Header:
    """What the header says, by cell of a row and by axis.

    Attributes
    ----------
    heads : list of str
        Column heads as written; empty where there is no line of names.
    names : list of str
        The same without units.
    units : list of list of Claim
        Units of each column.
    axis_units : dict
        Units that ``x unit: mm`` and the like give to an axis.
    intervals : list of Interval
        Stated sampling intervals.
    numbers : list of int
        Lines that hold numbers only, which the table does not.
    """

    heads: list[str]
    names: list[str]
    units: list[list[Claim]]
    axis_units: dict[Axis, list[Claim]] = field(default_factory=lambda: {a: [] for a in Axis})
    intervals: list[Interval] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)


def read_header(
    layout: Layout, where: str, lines: Sequence[tuple[int, str]] | None = None
) -> Header:
    """Read the lines above the table, or others with their numbers.

    Raises
    ------
    ScanError
        If they name another number of columns than the rows have.
    """
    header = Header([], [], [[] for _ in range(layout.cells)])
    heads: list[tuple[int, list[str]]] = []
    above = list(enumerate(layout.header, 1)) if lines is None else lines
    for line, text in above:
        bare = without_comment_mark(text)
        if _RULER.fullmatch(bare):
            continue
        if _holds_numbers_only(text):
            header.numbers.append(line)
        elif not _read_setting(bare, line, layout, header) and (cells := _heads(bare, layout)):
            heads.append((line, cells))
    if heads:
        _read_heads(heads, header)
    else:
        _check_no_other_heads(above, layout, where)
    return header


def _check_no_other_heads(lines: Sequence[tuple[int, str]], layout: Layout, where: str) -> None:
    """Refuse rows that a comma in the numbers has cut into more cells than there are heads."""
    for line, text in lines:
        if layout.delimiter in (None, *text):
            cells = [cell for cell in split(without_comment_mark(text), layout.delimiter) if cell]
            if len(cells) > 1 and all(read_name(cell).units for cell in cells):
                raise ScanError(
                    f"the header names {len(cells)} columns, but rows have {layout.cells} cells",
                    where=where,
                    hint="a decimal comma or one for thousands may cut the numbers: "
                    "part the cells by semicolons, or put them in quotes",
                    line=line,
                )


def _holds_numbers_only(text: str) -> bool:
    cells = filter(None, re.split(r"[\s,;]+", text))
    return all(numerals.marks(cell) or numerals.is_missing(cell) for cell in cells)


def _read_heads(heads: Sequence[tuple[int, list[str]]], header: Header) -> None:
    """Take the last line that has a head for every column, and a line of units below it."""
    line, cells = heads[-1]
    names = [read_name(cell) for cell in cells]
    if _are_units(cells):
        # Both "mm, um" and "[mm], [um]": words in brackets, or bare, with no name beside them.
        _claim(header, line, [[cell.strip("[]() ")] for cell in cells])
        if len(heads) == 1:
            return
        line, cells = heads[-2]
        names = [read_name(cell) for cell in cells]
    header.heads, header.names = cells, [name.text for name in names]
    _claim(header, line, [name.units for name in names])


def _are_units(cells: Sequence[str]) -> bool:
    bare = [cell.strip("[]() ") for cell in cells]
    bracketed = [cell[:1] in ("[", "(") and cell[-1:] in ("]", ")") for cell in cells]
    is_unit = [dimension_of(word) is not None for word in bare]
    return any(is_unit_word(word, "length") for word in bare) and all(
        unit or bracket or numerals.is_missing(word)
        for unit, bracket, word in zip(is_unit, bracketed, bare, strict=True)
    )


def _claim(header: Header, line: int, words: Sequence[Sequence[str]]) -> None:
    for claims, found in zip(header.units, words, strict=True):
        claims.extend(Claim(word, line) for word in found if not numerals.is_missing(word))


def _heads(text: str, layout: Layout) -> list[str]:
    """Cells of a line that has a head for every column; else nothing."""
    if layout.cells == 1:
        return [text.strip('"').rstrip(";,\t ")]
    for delimiter in dict.fromkeys((layout.delimiter, TAB, SEMICOLON, COMMA)):
        cells = split(text, delimiter)
        if len(cells) > layout.cells and not any(cells[layout.cells :]):
            cells = cells[: layout.cells]
        if _is_head(cells, layout):
            return cells
    for cells in (re.split(r"[ \t]{2,}", text), _BRACKETED_PAIR.findall(text), split(text, BLANKS)):
        if _is_head(cells, layout):
            return list(cells)
    return []


def _is_head(cells: Sequence[str], layout: Layout) -> bool:
    return len(cells) == layout.cells and not any(numerals.marks(cell) for cell in cells)


def _read_setting(text: str, line: int, layout: Layout, header: Header) -> bool:
    """Read ``key: value``, ``key = value`` or ``key, value``; False where it is none we know."""
    if match := _KEY_AND_VALUE.fullmatch(text):
        key, value = match[1].strip(' "'), match[2].strip(' "\t;,')
        written = True
    else:
        cells = [cell for cell in _best_split(text, layout) if cell]
        if len(cells) < 2:
            return False
        key, value, written = cells[0], " ".join(cells[1:]), False
    name = read_name(key)
    words = set(words_of(name.text))
    if words & _STEP and words <= _STEP | _STEP_FILLERS:
        return _read_interval(value, name.units, line, header)
    about = words - _UNIT - _UNIT_FILLERS
    if not words & _UNIT:
        # "height: nm" gives a unit; "height, nm" may as well be the heads of two columns.
        if not written or not is_unit_word(value, "length"):
            return written
        about = words - _UNIT_FILLERS
    if not about:
        return _read_unit_list(value, line, layout, header) or written
    if (axis := axis_of(about)) is None:
        return written
    header.axis_units[axis].append(Claim(value.strip("[]() "), line))
    return True


def _best_split(text: str, layout: Layout) -> list[str]:
    for delimiter in (layout.delimiter, TAB, SEMICOLON, COMMA):
        if delimiter is not None and delimiter in text:
            return split(text, delimiter)
    return [text]


def _read_interval(value: str, units: Sequence[str], line: int, header: Header) -> bool:
    match = _VALUE_AND_UNIT.fullmatch(value)
    if match is None or not numerals.marks(match[1]):
        return False
    unit = (match[2] or "").strip("[]() ") or (units[0] if units else "")
    header.intervals.append(Interval(match[1], unit, line))
    return True


def _read_unit_list(value: str, line: int, layout: Layout, header: Header) -> bool:
    """Read ``units: mm, um``, one for each column in their order."""
    words = [word.strip("[]() ") for word in re.split(r"[,;\s]+", value) if word]
    if len(words) != layout.cells or not all(dimension_of(word) for word in words):
        return False
    _claim(header, line, [[word] for word in words])
    return True
