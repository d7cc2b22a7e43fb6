"""How a text file is laid out, found from its first lines: delimiter, decimal mark, first row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from filmstress.errors import ScanError
from filmstress.scans.reading import numerals
from filmstress.scans.reading.cells import split, without_comment_mark
from filmstress.scans.reading.names import Axis, axis_of, read_name, words_of
from filmstress.scans.reading.numerals import OTHER, Notation, shown
from filmstress.scans.reading.pattern import (
    Pattern,
    Row,
    all_missing,
    find_pattern,
    without_empty_end,
)

_MAX_CELLS = 64


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
    pattern, sample = find_pattern(lines)
    if pattern is None:
        raise ScanError(
            "has no rows of numbers"
            + ("" if whole else f" in its first {len(lines)} lines")
            + f"; it begins with {shown(next(filter(str.strip, lines), ''))}",
            where=where,
            hint="a scan is a text table of positions and heights, one point a line",
        )
    if pattern.cells > _MAX_CELLS:
        raise ScanError(
            f"has rows of {pattern.cells} cells; a map of heights is no scan",
            where=where,
            hint="write one line for each point: its position and its height",
        )
    rows = pattern.rows(lines[:sample])
    if (trimmed := without_empty_end(pattern, rows, lines)) != pattern:
        pattern, rows = trimmed, trimmed.rows(lines[:sample])
    first = rows[0][0] - 1
    if _comma_is_ambiguous(pattern, [lines[line - 1] for line, _ in rows]):
        pattern = _settle_comma(pattern, lines[:first], decimal, columns, lines[first], where)
        rows = pattern.rows(lines[:sample])
    notation = _find_notation(pattern, rows, lines, decimal, where)
    while first and all_missing(lines[first - 1], pattern):
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


def _comma_is_ambiguous(pattern: Pattern, rows: Sequence[str]) -> bool:
    """Whether every row is two whole numbers around a comma, or one number with a decimal comma."""
    if pattern.delimiter != "," or pattern.cells != 2 or pattern.text_cells:
        return False
    return all("," in numerals.marks(row.strip()) for row in rows)


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
    pattern: Pattern, rows: Sequence[Row], lines: Sequence[str], stated: str | None, where: str
) -> Notation:
    """Decimal mark from the cells that can be read under one mark only."""
    witnesses, groups, doubtful = _witnesses(rows)
    if doubtful and len(witnesses) < 2:
        # Widen the look only where a comma was seen: a plain file need not pay for it.
        witnesses, groups, doubtful = _witnesses(pattern.rows(lines))
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
                line=rows[0][0],
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
    rows: Sequence[Row],
) -> tuple[dict[str, tuple[int, str]], set[str], tuple[int, str] | None]:
    """First cell that needs each mark, marks seen with groups, first cell with a doubtful comma."""
    witnesses: dict[str, tuple[int, str]] = {}
    groups: set[str] = set()
    doubtful: tuple[int, str] | None = None
    for line, cells in rows:
        for cell in cells:
            fitting = numerals.marks(cell)
            if len(fitting) == 1:
                witnesses.setdefault(fitting, (line, cell))
                if numerals.shows_groups(cell, fitting):
                    groups.add(fitting)
            elif fitting and "," in cell:
                doubtful = doubtful or (line, cell)
    return witnesses, groups, doubtful
