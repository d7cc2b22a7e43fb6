"""Row by row through a text file: slower than numpy, but it says what every line is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut
from filmstress.scans.reading.cells import COMMENT_SIGNS, is_comment, row_cells
from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.layout import Layout
from filmstress.scans.reading.names import Axis
from filmstress.scans.reading.numerals import (
    COMMA,
    OTHER,
    POINT,
    AmbiguousGroupError,
    counted,
    is_missing,
    shown,
)

Point = tuple[int, float, float]


@dataclass(slots=True)
class Tally:
    """What a walk through the rows met: rows, and by reason the lines that became no point."""

    rows: int = 0
    left_out: dict[str, list[int]] = field(default_factory=dict)
    comments: list[int] = field(default_factory=lambda: [0, 0])

    def leave_out(self, reason: str, line: int, count: int = 1) -> None:
        """Count lines that became no point; ``line`` is the first of them."""
        self.left_out.setdefault(reason, [0, line])[0] += count

    def as_left_out(self) -> tuple[LeftOut, ...]:
        """The lines left out, by reason."""
        return tuple(LeftOut(why, count, first) for why, (count, first) in self.left_out.items())


@dataclass(slots=True)
class _Words:
    """Lines of words after a row: a footer, unless another row follows."""

    line: int
    text: str
    column: int | None
    count: int = 0


def walk(
    lines: Iterable[str], layout: Layout, columns: Columns, tally: Tally, where: str
) -> Iterator[Point]:
    """Yield line number, position and height of every point, as written (not yet in metres).

    Without a position column the position is the row's number from 0; rows left out keep theirs.

    Raises
    ------
    ScanError
        At a row that is neither a point nor known to be something else.
    """
    words: _Words | None = None
    blank = 0
    for line, text in enumerate(lines, 1):
        if line < layout.first_row:
            continue
        point = _plain_point(text, layout, columns)
        if point is None:
            if not text.strip():
                blank = blank or line
                continue
            if is_comment(text, layout.delimiter):
                tally.comments[0] += 1
                tally.comments[1] = tally.comments[1] or line
                continue
            cells = row_cells(text, layout.delimiter, layout.cells)
            point = _point(cells, layout, columns)
            reason = None if point else _why_no_point(cells, line, layout, columns, where)
            if point is None and reason is None:
                column = (columns.position or 0) + 1 if len(cells) == layout.cells else None
                words = words or _Words(line, text, column)
                words.count += 1
                continue
            if reason is not None:
                tally.leave_out(reason, line)
        if words is not None:
            raise _words_between(words, line, where)
        if blank and columns.position is None and tally.rows:
            raise ScanError(
                "a blank line between the heights: a missing point, or nothing?",
                where=where,
                hint="write NaN where a point is missing, and no blank lines",
                line=blank,
            )
        if point is not None:
            yield line, float(tally.rows) if columns.position is None else point[0], point[1]
        tally.rows += 1
    if words is not None:
        tally.leave_out("words after the last row", words.line, words.count)


def _plain_point(text: str, layout: Layout, columns: Columns) -> tuple[float, float] | None:
    """Position and height of a row that ``float`` reads as it stands; else None.

    Much faster than `_point`, and most rows of any file are plain.  What ``float`` takes and
    we do not (underscores, foreign digits, words) is turned away.
    """
    if "_" in text or not text.isascii() or text.lstrip()[:1] in COMMENT_SIGNS:
        return None
    if layout.notation.decimal == COMMA:
        if POINT in text or layout.delimiter == COMMA:
            return None
        text = text.replace(COMMA, POINT)
    cells = text.split(layout.delimiter)
    if len(cells) != layout.cells:
        return None
    try:
        z = float(cells[columns.height])
        x = z if columns.position is None else float(cells[columns.position])
    except ValueError:
        return None
    return (x, z) if math.isfinite(x) and math.isfinite(z) else None


def _point(cells: list[str], layout: Layout, columns: Columns) -> tuple[float, float] | None:
    """Position and height of a row, however its numbers are written; None where one is missing."""
    if len(cells) != layout.cells:
        return None
    number = layout.notation.number
    try:
        z = number(cells[columns.height])
        x = z if columns.position is None else number(cells[columns.position])
    except ValueError:
        return None
    return (x, z) if math.isfinite(x) and math.isfinite(z) else None


def _why_no_point(
    found: list[str], line: int, layout: Layout, columns: Columns, where: str
) -> str | None:
    """Say why a row is left out; None for a line of words; raise for anything else."""
    if all(map(is_missing, found)):
        kinds = sorted({cell for cell in found if cell})
        return f"no values ({', '.join(map(shown, kinds))})" if kinds else "blank cells only"
    if len(found) != layout.cells:
        if not is_missing(found[0]) and not _is_number(found[0], layout):
            return None
        raise ScanError(
            f"{counted(len(found), 'cell')} where the rows before have {layout.cells}",
            where=where,
            hint="the line may be cut short, or have a delimiter or decimal mark too many",
            line=line,
        )
    wanted = [(Axis.HEIGHT, columns.height)]
    if columns.position is not None:
        wanted.insert(0, (Axis.POSITION, columns.position))
    reason = ""
    for axis, index in wanted:
        cell = found[index]
        if is_missing(cell):
            what = shown(cell) if cell else "blank cell"
            reason = reason or f"no {axis.value} ({what})"
        elif not _is_number(cell, layout, line, index, where):
            if axis is wanted[0][0]:
                return None
            raise ScanError(
                f"{shown(cell)} is no number with the decimal mark '{layout.notation.decimal}'",
                where=where,
                hint="mend it, or write NaN for a value that is missing",
                line=line,
                column=index + 1,
            )
    return reason


def _is_number(cell: str, layout: Layout, line: int = 0, index: int = 0, where: str = "") -> bool:
    """Whether a cell is a finite number; raise where it is one that cannot be taken (``line``)."""
    mark = layout.notation.decimal
    try:
        value = layout.notation.number(cell)
    except AmbiguousGroupError as error:
        if not line:
            return True
        raise ScanError(
            f"{shown(cell)} may be {cell.replace(OTHER[mark], '')} or "
            f"{cell.replace(OTHER[mark], '.')}",
            where=where,
            hint=f"state --decimal {mark} if '{OTHER[mark]}' sets off thousands",
            line=line,
            column=index + 1,
        ) from error
    except ValueError:
        return False
    if line and not math.isfinite(value):
        raise ScanError(
            f"{shown(cell)} is beyond the range of numbers",
            where=where,
            hint="mend it, or write NaN for a value that is missing",
            line=line,
            column=index + 1,
        )
    return True


def _words_between(words: _Words, line: int, where: str) -> ScanError:
    return ScanError(
        f"{shown(words.text)} stands between rows of numbers (the next one is line {line})",
        where=where,
        hint="one scan a file: part two scans, or mark a remark with '#'",
        line=words.line,
        column=words.column,
    )
