"""The rows of a text file as arrays: all at once where they are plain, else row by row."""

from __future__ import annotations

import itertools
from array import array
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.layout import Layout
from filmstress.scans.reading.order import turns_back
from filmstress.scans.reading.plain_rows import read_columns, row_form
from filmstress.scans.reading.rows import walk
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.tally import Tally

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows of a file as they stand in it.

    Attributes
    ----------
    x, z : ndarray of float64, shape (n,)
        Positions and heights as written, finite, in the order of the rows.
    tally : Tally
        How many rows there were, what became no point, what stood between.
    lines_of : callable
        Line numbers of points, by their indices in rising order; may read the file again.
    """

    x: Floats
    z: Floats
    tally: Tally
    lines_of: Callable[[Sequence[int]], list[int]]


def read_rows(source: Source, layout: Layout, columns: Columns) -> Rows:
    """Read all rows.

    Raises
    ------
    ScanError
        At the first row that cannot be read.
    """

    def walked(indices: Sequence[int]) -> list[int]:
        wanted = set(indices)
        with source.text(layout.encoding) as lines:
            points = walk(lines, layout, columns, Tally(), source.name)
            near = itertools.islice(points, max(wanted, default=-1) + 1)
            found = {index: point[0] for index, point in enumerate(near) if index in wanted}
        return [found[index] for index in indices]

    def counted(indices: Sequence[int]) -> list[int]:
        return [layout.first_row + index for index in indices]

    points = _all_alike(source, layout, columns)
    if points is None:
        points = _by_numpy(source, layout, columns)
        # numpy skips blank lines, and only row by row are they told.
        lines = source.lines - layout.first_row + 1
        gaps = points is not None and len(points[1]) not in (lines, lines + 1)
        if points is not None and gaps and turns_back(points[0]):
            points = None
    else:
        gaps = False
    if points is None:
        return _row_by_row(source, layout, columns)
    x, z = points
    tally = Tally(rows=len(z), points=len(z))
    return Rows(x, z, tally, walked if gaps else counted)


def _all_alike(source: Source, layout: Layout, columns: Columns) -> tuple[Floats, Floats] | None:
    """Positions and heights where all rows are written alike, in plain numbers; else None."""
    if layout.text_cells or layout.encoding.startswith("utf-16"):
        return None
    start = 0
    for _ in range(layout.first_row - 1):
        start = source.head.find(b"\n", start) + 1
        if not start:
            return None
    if b"\r" in source.head[:start].replace(b"\r\n", b""):
        return None  # line ends of two kinds: which line is which is told row by row
    row = source.head[start : source.head.find(b"\n", start) + 1]
    form = row_form(
        row, delimiter=layout.delimiter, decimal=layout.notation.decimal, cells=layout.cells
    )
    if form is None:
        return None
    wanted = [columns.height]
    if columns.position is not None:
        wanted.append(columns.position)
    with source.binary() as stream:
        stream.seek(start)
        found = read_columns(stream, form, wanted, source.lines + 1)
    if found is None:
        return None
    return _numbered(found[0]) if len(found) == 1 else (found[1], found[0])


def _numbered(z: Floats) -> tuple[Floats, Floats]:
    """Heights with the row's number for the position."""
    return np.arange(z.size, dtype=np.float64), z


def _by_numpy(source: Source, layout: Layout, columns: Columns) -> tuple[Floats, Floats] | None:
    """Positions and heights as numpy reads them, every cell a finite number; None where it cannot.

    All columns are read and no comments allowed, so that ragged rows, comments, blank cells and
    words are errors here and are told apart row by row.
    """
    comma = layout.notation.decimal == ","
    if layout.text_cells or (comma and layout.delimiter == ","):
        return None
    try:
        if not comma and (path := source.numpy_path):
            table = _loadtxt(path, layout)
        else:
            with source.text(layout.encoding) as lines:
                table = _loadtxt(map(_with_point, lines) if comma else lines, layout)
    except ValueError:
        return None
    if table.shape[1] != layout.cells or not np.isfinite(table).all():
        return None
    # numpy skips blank lines, which among heights without positions may be missing points.
    if columns.position is None and len(table) < source.lines - layout.first_row + 1:
        return None
    z = _column(table, columns.height)
    return _numbered(z) if columns.position is None else (_column(table, columns.position), z)


def _with_point(line: str) -> str:
    """Put a decimal point for each comma; a point that stood there is no number any more."""
    return line.replace(".", "_").replace(",", ".")


def _loadtxt(file: str | Iterable[str], layout: Layout) -> Floats:
    table: Floats = np.loadtxt(
        file,
        dtype=np.float64,
        comments=None,
        delimiter=layout.delimiter,
        skiprows=layout.first_row - 1,
        encoding=layout.encoding,
        ndmin=2,
    )
    return table


def _column(table: Floats, index: int) -> Floats:
    """One column; a view where the whole table is wanted anyway, so that it is not held twice."""
    column: Floats = table[:, index]
    return column if table.shape[1] <= 2 else column.copy()


def _row_by_row(source: Source, layout: Layout, columns: Columns) -> Rows:
    x, z, numbers, tally = array("d"), array("d"), array("L"), Tally()
    with source.text(layout.encoding) as lines:
        for line, position, height in walk(lines, layout, columns, tally, source.name):
            x.append(position)
            z.append(height)
            numbers.append(line)
    return Rows(
        np.frombuffer(x, np.float64),
        np.frombuffer(z, np.float64),
        tally,
        lambda indices: [numbers[index] for index in indices],
    )
