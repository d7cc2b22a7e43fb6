"""How a text file is laid out, found from its first lines: delimiter, decimal mark, first row.

Each delimiter is tried on the first lines.  The lines that become rows of numbers under it are
counted by their pattern (how many cells, which of them text); the delimiter whose commonest
pattern covers most lines wins, then the one that leaves fewer cells as text.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from operator import or_

from filmstress.errors import ScanError
from filmstress.scans.reading import numerals
from filmstress.scans.reading.cells import DELIMITERS, is_comment, row_cells, split, without_comment_mark
from filmstress.scans.reading.names import Axis, axis_of, read_name, words_of
from filmstress.scans.reading.numerals import OTHER, Notation, shown

_FIRST_SAMPLE = 40
_ROWS_ENOUGH = 10


@dataclass(frozen=True, slots=True)
class Layout:
    """Layout of one text file.

    Attributes
    ----------
    encoding : str
        Python's name for it.
    delimiter : str or None
        None: blanks and tabs.
    notation : Notation
        How numbers are written.
    cells : int
        Cells of a row, not counting an empty one after a trailing delimiter.
    text_cells : frozenset of int
        Those that hold words, from 0.
    first_row : int
        Line number of the first row, from 1.
    header : tuple of str
        The lines above it.
    """

    encoding: str
    delimiter: str | None
    notation: Notation
    cells: int
    text_cells: frozenset[int]
    first_row: int
    header: tuple[str, ...]

    @property
    def number_cells(self) -> tuple[int, ...]:
        """Cells that hold numbers, from 0."""
        return tuple(cell for cell in range(self.cells) if cell not in self.text_cells)


@dataclass(frozen=True, slots=True)
class Pattern:
    """Shape of a row under one delimiter: number of cells, and which are text."""

    delimiter: str | None
    cells: int
    text_cells: frozenset[int]

    def numbers(self, line: str) -> list[str]:
        """Cells of a line where this pattern has numbers; empty if the line is no such row."""
        if not line or is_comment(line, self.delimiter):
            return []
        cells = row_cells(line, self.delimiter, self.cells)
        if len(cells) != self.cells:
            return []
        found = [cell for index, cell in enumerate(cells) if index not in self.text_cells]
        kinds = [numerals.is_number(cell) for cell in found]
        if not all(map(or_, kinds, map(numerals.is_missing, found))):
            return []
        return found if any(kinds) else []


def find_layout(
    text: str, *, whole: bool, encoding: str, decimal: str | None, columns: int | None, where: str
) -> Layout:
    """Find the layout of a file from its first lines.

    Parameters
    ----------
    text : str
        The first lines, ended by LF.
    whole : bool
        Whether they are all there are.
    encoding : str
        Carried along.
    decimal : str or None
        Decimal mark, if stated.
    columns : int or None
        How many columns the user named, if any.
    where : str
        Name of the file.

    Raises
    ------
    ScanError
        No rows of numbers, or several ways to read them.
    """
    lines = text.split("\n")
    if not whole and len(lines) > 1:
        lines.pop()  # it may be cut off
    pattern, sample = _find_pattern(lines)
    if pattern is None:
        raise ScanError(
            "has no rows of numbers"
            + ("" if whole else f" in its first {len(lines)} lines")
            + f"; it begins with {shown(next(filter(str.strip, lines), ''))}",
            where=where,
            hint="a scan is a text table of positions and heights, one point a line",
        )
    pattern = _without_empty_end(pattern, lines[:sample])
    first = next(i for i, line in enumerate(lines) if pattern.numbers(line))
    rows = [line for line in lines[first:sample] if pattern.numbers(line)]
    if _comma_is_ambiguous(pattern, rows):
        pattern = _settle_comma(pattern, lines[:first], decimal, columns, rows[0], where)
    notation = _find_notation(pattern, lines, first, sample, decimal, where)
    while first and _all_missing(lines[first - 1], pattern):
        first -= 1
    return Layout(
        encoding=encoding,
        delimiter=pattern.delimiter,
        notation=notation,
        cells=pattern.cells,
        text_cells=pattern.text_cells,
        first_row=first + 1,
        header=tuple(lines[:first]),
    )


def _find_pattern(lines: Sequence[str]) -> tuple[Pattern | None, int]:
    """Return the pattern of the rows, and how many lines were looked at to find it."""
    sample = _FIRST_SAMPLE
    while True:
        counts = _patterns(lines[:sample])
        best = max(counts, key=lambda one: _rank(one, counts), default=None)
        if sample >= len(lines) or (best and counts[best] >= _ROWS_ENOUGH):
            return best, sample
        sample *= 8


def _patterns(lines: Sequence[str]) -> Counter[Pattern]:
    counts: Counter[Pattern] = Counter()
    for delimiter in DELIMITERS:
        for line in lines:
            if found := _pattern(line, delimiter):
                counts[found] += 1
    return counts


def _rank(pattern: Pattern, counts: Counter[Pattern]) -> tuple[bool, int, int, int, int]:
    """Rank a pattern: a table of numbers alone, most rows, least text, most cells."""
    count = counts[pattern]
    return (
        not pattern.text_cells and count >= _ROWS_ENOUGH,
        count,
        -len(pattern.text_cells),
        pattern.cells,
        -DELIMITERS.index(pattern.delimiter),
    )


def _pattern(line: str, delimiter: str | None) -> Pattern | None:
    """Return the pattern of a line; None if it cannot be a row of numbers."""
    if not line or (delimiter is not None and delimiter not in line):
        return None
    if is_comment(line, delimiter):
        return None
    cells = split(line, delimiter)
    text, missing = [], 0
    for index, cell in enumerate(cells):
        if numerals.is_missing(cell):
            missing += 1
        elif not numerals.is_number(cell):
            text.append(index)
    usable = len(cells) - len(text)
    if missing == usable or (usable < 2 and len(cells) > 1):
        return None
    return Pattern(delimiter, len(cells), frozenset(text))


def _without_empty_end(pattern: Pattern, lines: Sequence[str]) -> Pattern:
    """Drop the last cell where it is empty in every row: it follows a trailing delimiter."""
    rows = [split(line, pattern.delimiter) for line in lines if pattern.numbers(line)]
    while pattern.cells > 1 and not any(cells[pattern.cells - 1] for cells in rows):
        pattern = replace(pattern, cells=pattern.cells - 1)
    return pattern


def _all_missing(line: str, pattern: Pattern) -> bool:
    """Whether a line is a row of missing values, in words: blanks and dashes may be a ruler."""
    cells = row_cells(line, pattern.delimiter, pattern.cells)
    return (
        len(cells) == pattern.cells
        and all(map(numerals.is_missing, cells))
        and any(map(str.isalpha, line))
    )


def _comma_is_ambiguous(pattern: Pattern, rows: Sequence[str]) -> bool:
    """Whether every row is two whole numbers around a comma, or one number with a decimal comma."""
    if pattern.delimiter != "," or pattern.cells != 2 or pattern.text_cells:
        return False
    return all(numerals.fits(row.strip(), ",") for row in rows)


def _settle_comma(
    pattern: Pattern,
    header: Sequence[str],
    decimal: str | None,
    columns: int | None,
    row: str,
    where: str,
) -> Pattern:
    """Decide by what is stated, or by heads that are known words, what the comma is."""
    heights_only = Pattern(None, 1, frozenset())
    if decimal is not None:
        return heights_only if decimal == "," else pattern
    if columns == 2:
        return pattern
    heads = split(without_comment_mark(next(filter(str.strip, reversed(header)), "")), ",")
    meanings = [_meaning(head) for head in heads]
    if len(heads) == 2 and all(meanings):
        return pattern
    if len(heads) == 1 and meanings[0] is Axis.HEIGHT:
        return heights_only
    raise ScanError(
        f"the comma in {shown(row)} may part two columns or be a decimal mark",
        where=where,
        hint="state --decimal . or --decimal , (or write heads above it: 'x [mm],z [um]')",
        line=len(header) + 1,
    )


def _meaning(head: str) -> Axis | bool:
    """Axis that a head names; True where it has a unit at least."""
    name = read_name(head)
    return axis_of(words_of(name.text)) or bool(name.units)


def _find_notation(
    pattern: Pattern,
    lines: Sequence[str],
    first: int,
    sample: int,
    stated: str | None,
    where: str,
) -> Notation:
    """Decimal mark from the cells that can be read under one mark only."""
    witnesses, groups, doubtful = _witnesses(pattern, lines, first, sample)
    if doubtful and len(witnesses) < 2:
        # Widen the look only where a comma was seen: a plain file need not pay for it.
        witnesses, groups, doubtful = _witnesses(pattern, lines, first, len(lines))
    if stated is not None:
        if against := witnesses.get(OTHER[stated]):
            line, cell = against
            raise ScanError(
                f"{shown(cell)} cannot be a number with the decimal mark '{stated}' as stated",
                where=where,
                hint=f"state --decimal {OTHER[stated]}, or leave it to the file",
                line=line,
            )
        if stated == pattern.delimiter and stated not in witnesses:
            raise ScanError(
                "the comma parts the columns, so it cannot be the decimal mark as stated",
                where=where,
                hint="part the columns by semicolons, or put the cells in quotes",
                line=first + 1,
            )
        return Notation(stated, groups=True)
    if len(witnesses) == 2:
        (line, cell), (line2, cell2) = witnesses["."], witnesses[","]
        raise ScanError(
            f"{shown(cell2)} has a decimal comma, but {shown(cell)} in line {line} a decimal point",
            where=where,
            hint="write all numbers of the file with one decimal mark",
            line=line2,
        )
    if witnesses:
        decimal = next(iter(witnesses))
        return Notation(decimal, groups=decimal in groups)
    if doubtful:
        line, cell = doubtful
        raise ScanError(
            f"{shown(cell)} may be {cell.replace(',', '.')} or {cell.replace(',', '')}",
            where=where,
            hint="state the decimal mark with --decimal , or --decimal .",
            line=line,
        )
    return Notation(".")


def _witnesses(
    pattern: Pattern, lines: Sequence[str], first: int, stop: int
) -> tuple[dict[str, tuple[int, str]], set[str], tuple[int, str] | None]:
    """First cell that needs each mark, marks seen with groups, first cell with a doubtful comma."""
    witnesses: dict[str, tuple[int, str]] = {}
    groups: set[str] = set()
    doubtful: tuple[int, str] | None = None
    for line, cell in _number_cells(pattern, lines, first, stop):
        fitting = [mark for mark in OTHER if numerals.fits(cell, mark)]
        if len(fitting) == 1:
            witnesses.setdefault(fitting[0], (line, cell))
            if numerals.shows_groups(cell, fitting[0]):
                groups.add(fitting[0])
        elif fitting and "," in cell:
            doubtful = doubtful or (line, cell)
    return witnesses, groups, doubtful


def _number_cells(
    pattern: Pattern, lines: Sequence[str], first: int, stop: int
) -> Iterator[tuple[int, str]]:
    for index in range(first, min(stop, len(lines))):
        for cell in pattern.numbers(lines[index]):
            yield index + 1, cell
