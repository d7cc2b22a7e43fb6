"""Which delimiter makes rows of numbers out of the lines of a text file.

Each delimiter is tried on the first lines.  The lines that become rows of numbers under it are
counted by their pattern (how many cells, which of them text); the commonest pattern wins, of equal
ones that which leaves fewer cells as text.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from filmstress.scans.reading import numerals
from filmstress.scans.reading.cells import DELIMITERS, is_comment, row_cells, split

_FIRST_SAMPLE = 24
_ROWS_ENOUGH = 10


# A row of a file: its line number, and its cells of numbers.
Row = tuple[int, list[str]]


@dataclass(frozen=True, slots=True)
class Pattern:
    """Shape of a row under one delimiter: number of cells, and which are text."""

    delimiter: str | None
    cells: int
    text_cells: frozenset[int]

    def rows(self, lines: Sequence[str], after: int = 0) -> list[Row]:
        """Rows among the lines after line ``after``: of this shape, with a number."""
        numbered = enumerate(lines[after:], after + 1)
        return [(line, cells) for line, text in numbered if (cells := self._numbers(text))]

    def _numbers(self, line: str) -> list[str]:
        """Cells of a line where this pattern has numbers; empty if the line is no such row."""
        if not line or is_comment(line, self.delimiter):
            return []
        cells = row_cells(line, self.delimiter, self.cells)
        if len(cells) != self.cells:
            return []
        if self.text_cells:
            cells = [cell for index, cell in enumerate(cells) if index not in self.text_cells]
        some = False
        for cell in cells:
            if numerals.marks(cell):
                some = True
            elif not numerals.is_missing(cell):
                return []
        return cells if some else []


def find_pattern(lines: Sequence[str]) -> tuple[Pattern | None, int]:
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
    text, numbers = [], 0
    for index, cell in enumerate(cells):
        if numerals.marks(cell):
            numbers += 1
        elif not numerals.is_missing(cell):
            text.append(index)
    if not numbers or (len(cells) - len(text) < 2 and len(cells) > 1):
        return None
    return Pattern(delimiter, len(cells), frozenset(text))


def without_empty_end(pattern: Pattern, rows: Sequence[Row], lines: Sequence[str]) -> Pattern:
    """Drop the last cell if it follows a trailing delimiter: empty in every row, without a head.

    The rows at hand are asked first, then all lines.  A later row that fills the cell is found to
    have one too many, so nothing is lost if this is wrong.
    """
    last = pattern.cells - 1
    if not last or last in pattern.text_cells or any(cells[-1] for _, cells in rows):
        return pattern
    heads = (split(line, pattern.delimiter) for line in lines[: rows[0][0] - 1])
    if any(len(cells) > last and cells[last] for cells in heads):
        return pattern
    if any(cells[-1] for _, cells in pattern.rows(lines)):
        return pattern
    return replace(pattern, cells=last)


def all_missing(line: str, pattern: Pattern) -> bool:
    """Whether a line is a row of missing values, in words: blanks and dashes may be a ruler."""
    cells = row_cells(line, pattern.delimiter, pattern.cells)
    return (
        len(cells) == pattern.cells
        and all(map(numerals.is_missing, cells))
        and any(map(str.isalpha, line))
    )
