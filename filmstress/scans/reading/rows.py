"""Row by row through a text file: slower than numpy, but it says what every line is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from filmstress.errors import ScanError
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
from filmstress.scans.reading.tally import AFTER_LAST, Parting, Tally

Point = tuple[int, float, float]


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
    gap = Parting()
    for line, text in enumerate(lines, 1):
        if line < layout.first_row:
            continue
        point = _plain_point(text, layout, columns)
        if point is None:
            if not text.strip():
                gap.add(line, text)
                continue
            if is_comment(text, layout.delimiter):
                tally.comments.append(line)
                gap.add(line, text)
                continue
            cells = row_cells(text, layout.delimiter, layout.cells)
            point = _point(cells, layout, columns)
            reason = None if point else _why_no_point(cells, line, layout, columns, where)
            if point is None and reason is None:
                column = (columns.position or 0) + 1 if len(cells) == layout.cells else None
                gap.add(line, text)
                if not gap.words:
                    gap.first_words, gap.column = text, column
                gap.words.append(line)
                continue
            if reason is not None:
                tally.leave_out(reason, line)
        if gap.line:
            tally.part(gap, line, where)
            gap = Parting()
        if point is not None:
            tally.points += 1
            yield line, float(tally.rows) if columns.position is None else point[0], point[1]
        tally.rows += 1
    for line in gap.words:
        tally.leave_out(AFTER_LAST, line)


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
