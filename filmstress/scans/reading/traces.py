"""Which of the rows of a file are one scan: several may follow each other, with or without a word.

Positions part them: where they turn back or start anew another scan begins.  Lines between the
rows name it, and may give it units of its own.  Heights without positions are parted by such lines
alone.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut, ReadingOptions
from filmstress.scans.reading.cells import split, without_comment_mark
from filmstress.scans.reading.columns import Columns, choose_columns
from filmstress.scans.reading.header import Header, read_header
from filmstress.scans.reading.layout import Layout
from filmstress.scans.reading.names import Axis, axis_of, read_name, words_of
from filmstress.scans.reading.numerals import counted, marks
from filmstress.scans.reading.order import turns_back
from filmstress.scans.reading.runs import SHORT, Runs, find_runs
from filmstress.scans.reading.table import Rows
from filmstress.scans.reading.tally import AFTER_LAST, Parting, words_between
from filmstress.units.spelling import tidy

Floats = NDArray[np.float64]

MOST_SCANS = 1000
_LONGEST_NAME = 60
# How far from where the positions turn the lines may stand that part two scans, in rows.
_NEAR = 50
_LONGEST_SLIP = 40
# How a number begins, with letters that are taken for digits.
_LIKE_A_NUMBER = re.compile(r"[+-]?[OolI]?[.,]?\d")


@dataclass(frozen=True, slots=True)
class Table:
    """The points of one scan.

    Attributes
    ----------
    x, z : ndarray of float64, shape (n,)
        Positions and heights [m], finite, in the order of the rows.
    columns : Columns
        Where they stand and what they count.
    rows : int
        Rows found.
    left_out : tuple of LeftOut
        Lines that became no point.
    notes : tuple of str
        Anything else worth a note.
    line_of : callable
        Line number of a point, by its index; may read the file again.
    name : str
        What the file calls the scan, where it has several and calls them anything.
    lines : tuple of (int, int)
        First and last line; zeros where the file has one scan only.
    counted : str
        What ``line_of`` counts: "line", or "point" in a file that has no lines.
    number, among : int
        Which scan of the file it is, from 1, and how many there are.
    """

    x: Floats
    z: Floats
    columns: Columns
    rows: int
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]
    line_of: Callable[[int], int]
    name: str = ""
    lines: tuple[int, int] = (0, 0)
    counted: str = "line"
    number: int = 1
    among: int = 1


@dataclass(frozen=True, slots=True)
class _Part:
    """Points of one scan, by index, and the lines that stand before it."""

    start: int
    end: int
    parting: Parting | None = None


def tables_of(
    rows: Rows,
    layout: Layout,
    header: Header,
    columns: Columns,
    options: ReadingOptions,
    where: str,
) -> list[Table]:
    """Part the rows of a file into its scans, in metres.

    Raises
    ------
    ScanError
        If words stand within a scan, or a scan has heads or units that contradict others.
    """
    if columns.position is None:
        parts, between = _by_lines(rows, layout, options, where), 0
    else:
        parts, between = _by_positions(rows, layout, where)
    if len(parts) > MOST_SCANS:
        raise ScanError(
            f"holds {len(parts)} scans; want {MOST_SCANS} or fewer",
            where=where,
            hint="part the file; if another column holds the position, name it: --columns 1,3",
        )
    if len(parts) == 1:
        return [_table(rows, parts[0], columns, 0, math.inf)]
    ends = rows.lines_of([index for part in parts for index in (part.start, part.end - 1)])
    lines = list(zip(ends[::2], ends[1::2], strict=True))
    edges = [
        part.parting.line if part.parting else first
        for part, (first, _) in zip(parts, lines, strict=True)
    ]
    texts = [part.parting.texts if part.parting else [] for part in parts]
    names = _names([list(enumerate(layout.header, 1)), *texts[1:]], layout)
    notes = (f"{counted(between, 'row')} on the way back between scans left out",) * bool(between)
    found = []
    for number, part in enumerate(parts):
        own = _own_columns(columns, texts[number], layout, header, options, where)
        end = edges[number + 1] if number + 1 < len(parts) else math.inf
        if number + 1 < len(parts) and parts[number + 1].start > part.end:
            end = lines[number][1] + 1
        one = _table(rows, part, own, edges[number] if number else 0, end, lines[number][0])
        found.append(
            replace(one, name=names[number], lines=lines[number], notes=(*one.notes, *notes))
        )
    return found


def _table(
    rows: Rows, part: _Part, columns: Columns, edge: int, end: float, first: int = 0
) -> Table:
    x, z = rows.x[part.start : part.end], rows.z[part.start : part.end]
    # In place: of ten million rows no second copy is made.
    if part.parting is not None and columns.position is None:
        x -= part.parting.row
    x *= columns.position_unit.factor
    z *= columns.height_unit.factor
    left_out = rows.tally.within(edge, end)
    notes = []
    if comments := rows.tally.comments_within(first, end):
        passed = counted(comments.count, "comment line")
        notes.append(f"{passed} passed over below the header (first: line {comments.first_line})")
    return Table(
        x,
        z,
        columns,
        len(z) + sum(one.count for one in left_out if one.reason != AFTER_LAST),
        left_out,
        (*columns.notes, *notes),
        lambda index: rows.lines_of([part.start + index])[0],
    )


def _by_lines(rows: Rows, layout: Layout, options: ReadingOptions, where: str) -> list[_Part]:
    """Heights without positions: words part them, and blank lines where a scan was asked for."""
    cuts = []
    for parting in rows.tally.partings:
        if _is_slip(parting, layout):
            raise words_between(parting, where)
        if parting.words or (options.trace is not None and parting.blank):
            cuts.append(parting)
        elif parting.blank:
            raise ScanError(
                "a blank line between the heights: a missing point, or nothing?",
                where=where,
                hint="write NaN where a point is missing, and no blank lines; of several scans "
                "parted by blank lines choose one: --trace 1",
                line=parting.blank,
            )
    cuts = [one for one in cuts if 0 < one.point < len(rows.z)]
    starts, ends = [0, *(one.point for one in cuts)], [*(one.point for one in cuts), len(rows.z)]
    return [_Part(*each) for each in zip(starts, ends, [None, *cuts], strict=True)]


def _by_positions(rows: Rows, layout: Layout, where: str) -> tuple[list[_Part], int]:
    """Runs of the stage, each with the lines before it; how many rows are in none."""
    words = [one for one in rows.tally.partings if one.words]
    runs = None
    if len(rows.x) > SHORT and turns_back(rows.x):
        runs = find_runs(rows.x)
    if runs is None:
        if words:
            raise words_between(words[0], where)
        return [_Part(0, len(rows.x))], 0
    parts = [_Part(*runs.parts[0])]
    for start, end in runs.parts[1:]:
        before = parts[-1]
        parting = _parting_at(rows, before.end, start, runs)
        if parting is not None and before.end == start:
            start = parting.point
            parts[-1] = replace(before, end=start)
        parts.append(_Part(start, end, parting))
    taken = {part.parting.line for part in parts if part.parting is not None}
    for one in words:
        if one.line not in taken or _is_slip(one, layout):
            raise words_between(one, where)
    return parts, runs.between


def _is_slip(parting: Parting, layout: Layout) -> bool:
    """Whether the words are a row with a slip of the pen in its first number, not a heading."""
    if parting.column is None:
        return False
    cell = next(iter(split(parting.first_words, layout.delimiter)), "")[:_LONGEST_SLIP]
    mended = (cell[:at] + sign + cell[at + 1 :] for at in range(len(cell)) for sign in ("", "0"))
    return _LIKE_A_NUMBER.match(cell) is not None and any(map(marks, mended))


def _parting_at(rows: Rows, end: int, start: int, runs: Runs) -> Parting | None:
    """The lines that stand where one run ends and the next one starts; words before others."""
    jump = abs(rows.x[start] - rows.x[start - 1]) > runs.limit or end < start
    reach = 0 if jump else _NEAR
    partings = rows.tally.partings
    first = bisect_left(partings, end - reach, key=lambda one: one.point)
    near = partings[first : bisect_right(partings, start + reach, key=lambda one: one.point)]
    at_turn = [one for one in near if _spread(rows.x, one.point, start) <= runs.limit or jump]
    return min(at_turn, key=lambda one: (not one.words, abs(one.point - start)), default=None)


def _spread(x: Floats, one: int, other: int) -> float:
    between = x[min(one, other) : max(one, other)]
    return float(np.ptp(between)) if between.size else 0.0


def _names(texts: Sequence[Sequence[tuple[int, str]]], layout: Layout) -> list[str]:
    """Names of scans: of the lines above each, counted from below, the first that all differ.

    Column heads are taken only where there is nothing else.
    """
    bare = [[without_comment_mark(text).strip('",; ') for _, text in lines] for lines in texts]
    told = [[text for text in reversed(lines) if text] for lines in bare]
    words = [[text for text in lines if not _has_units(text, layout)] for lines in told]
    named_later = [words[0] or [""], *words[1:]]
    for names in (*zip(*named_later, strict=False), *zip(*told, strict=False)):
        if len({name.casefold() for name in names}) == len(names):
            return [_printable(name) for name in names]
    return [""] * len(texts)


def _printable(name: str) -> str:
    return tidy(name.replace("\0", "\ufffd"))[:_LONGEST_NAME].strip()


def _has_units(text: str, layout: Layout) -> bool:
    return any(read_name(cell).units for cell in split(text, layout.delimiter))


def _own_columns(
    columns: Columns,
    texts: Sequence[tuple[int, str]],
    layout: Layout,
    header: Header,
    options: ReadingOptions,
    where: str,
) -> Columns:
    """Columns of a scan as the lines above it say; where they are silent, as those of the file."""
    if not texts:
        return columns
    own = read_header(layout, where, texts)
    has_units = any(own.units) or any(own.axis_units.values())
    # One word may be anything; heads that name both columns are heads.
    has_names = sum(axis_of(words_of(name)) is not None for name in own.names) > 1
    if not (has_units or has_names or own.intervals):
        return columns
    named = own if own.names and (has_units or has_names) else header
    merged = Header(
        heads=named.heads,
        names=named.names,
        units=own.units if any(own.units) else header.units,
        axis_units={axis: own.axis_units[axis] or header.axis_units[axis] for axis in Axis},
        intervals=own.intervals or header.intervals,
    )
    for one in choose_columns(layout, merged, options, where):
        if (one.position, one.height) == (columns.position, columns.height):
            return replace(one, notes=columns.notes)
    raise ScanError(
        "the heads here name other columns as position and height than those above the first scan",
        where=where,
        hint="part the file, or name the columns: --columns 1,3",
        line=texts[0][0],
    )
