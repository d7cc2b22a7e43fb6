"""A table for a study of a gauge: readings of several wafers, or scans that are to be read."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from filmstress.errors import QuantityError, RefusedInput
from filmstress.inputs.faults import FaultList
from filmstress.inputs.readers import shown
from filmstress.inputs.text_file import read_text_file
from filmstress.records.quantity import Measured
from filmstress.records.scan import ReadingOptions
from filmstress.records.study import Reading, Readings, StudyScan
from filmstress.records.wafer import ScanSpec
from filmstress.units.dimensions import Dimension
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity

_PARTS = ("wafer", "part")
_LABELS = ("operator", "appraiser", "instrument", "loading", "load", "date", "day", "run", "tool")
_IGNORED = ("trial", "repeat")
_SCANS = ("scan", "file")
_OPTIONS = ("position_unit", "height_unit", "decimal", "columns")
_HINT = (
    "columns: wafer; operator (or instrument, loading, date, run, tool) where there is one; trial "
    "if wanted; and one of readings with its unit, such as bow [um], or one of scan files, scan"
)
# Dimension of readings, its SI unit, and the most that one may be: a metre of bow is no wafer's.
_KINDS: tuple[tuple[Dimension, str, float], ...] = (
    ("length", "m", 1.0),
    ("stress", "Pa", 1e12),
    ("number", "", 1e12),
)

_MOST_COLUMNS = 64

Row = tuple[str, dict[str, str]]


def read_study_table(path: str) -> Readings | tuple[StudyScan, ...]:
    """Read a table; the first line names the columns.

    A row is one reading of one wafer, in a column with its unit, or one scan, as a file named from
    the table's folder.  A reading left blank is a missing one.

    Raises
    ------
    RefusedInput
        The file cannot be read, a column is missing, or a cell cannot be read.
    """
    file = read_text_file(Path(path), what="study")
    cells = _cells(file.text, path)
    if len(cells[0]) > _MOST_COLUMNS:
        raise RefusedInput(f"has {len(cells[0])} columns", where=path, hint=_HINT)
    heads = [cell.partition("[")[0].rstrip().lower() for cell in cells[0]]
    twice = sorted({head for head in heads if head and heads.count(head) > 1})
    part = next((head for head in heads if head in _PARTS), None)
    rest = [head for head in heads if head not in (part, *_LABELS, *_IGNORED, *_SCANS, *_OPTIONS)]
    scans = [head for head in heads if head in _SCANS]
    # Beside readings, a column 'scan' only counts them.
    value = rest[0] if rest else (scans[0] if scans else "")
    if twice or part is None or len(rest) > 1 or not value or (not rest and len(scans) > 1):
        raise RefusedInput(f"its columns are {shown(', '.join(heads))}", where=path, hint=_HINT)
    rows = list(_rows(cells, heads, part, path))
    if not rest:
        return tuple(_scans(rows, part, value, path))
    head = cells[0][heads.index(value)]
    if head.count("[") != head.endswith("]"):
        raise RefusedInput(f"{shown(head)} is no head", where=path, hint=_HINT)
    word = head.partition("[")[2].rpartition("]")[0].strip()
    return replace(_readings(rows, part, value, word, path), files=((path, file.sha256),))


def _cells(text: str, path: str) -> list[list[str]]:
    first = text.partition("\n")[0]
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count)))
    except csv.Error as error:
        raise RefusedInput(f"is no table: {error}", where=path, hint=_HINT) from None
    rows = [[cell.strip() for cell in cells] for cells in rows if any(map(str.strip, cells))]
    if len(rows) < 2:
        raise RefusedInput("has no readings", where=path, hint=_HINT)
    return rows


def _rows(cells: list[list[str]], heads: list[str], part: str, path: str) -> Iterator[Row]:
    """Place and cells by their heads, of every row."""
    for line, row in enumerate(cells[1:], start=2):
        where = f"{path}, row {line}"
        if any(row[len(heads) :]):
            raise RefusedInput(
                f"has {len(row)} cells where the head has {len(heads)}",
                where=where,
                hint="a decimal comma needs another delimiter between the cells, such as ';'",
            )
        # A blank cell at the end of a row may be left out with its delimiter.
        told = dict(zip(heads, [*row, *[""] * (len(heads) - len(row))], strict=False))
        if not told[part]:
            raise RefusedInput("names no wafer", where=where, hint=_HINT)
        yield where, told


def _labels(row: Mapping[str, str]) -> dict[str, str]:
    return {head: row[head] for head in row if head in _LABELS}


def _scans(rows: list[Row], part: str, column: str, path: str) -> Iterator[StudyScan]:
    folder = Path(path).parent
    for where, row in rows:
        if not row[column]:
            raise RefusedInput(
                "names no scan", where=where, hint="name its file, or take the row out"
            )
        position, height, decimal, columns = (row.get(name) or None for name in _OPTIONS)
        reading = ReadingOptions(position, height, decimal, columns)
        azimuth = Measured(0.0, "rad", math.radians(1.0))
        spec = ScanSpec(path=str(folder / row[column]), azimuth=azimuth, reading=reading)
        yield StudyScan(row[part], spec, _labels(row))


def _readings(rows: list[Row], part: str, column: str, word: str, path: str) -> Readings:
    dimension, unit, most = _kind(word, path)
    kind = Kind(column, dimension, -most, most, f"1 {word}".rstrip())
    found, faults, missing = [], FaultList(), 0
    for where, row in rows:
        if not row[column]:
            missing += 1
            continue
        text = f"{row[column]} {word}".rstrip()
        read = faults.attempt(lambda: read_quantity(text, kind, where=where), None)  # noqa: B023
        if read is not None:
            found.append(Reading(row[part], read.value, _labels(row)))
    faults.raise_any()
    told = (f"Rows of the table without a reading: {missing}.",) if missing else ()
    return Readings(path, column, unit, tuple(found), remarks=told)


def _kind(word: str, path: str) -> tuple[Dimension, str, float]:
    for dimension, unit, most in _KINDS:
        try:
            read_quantity(f"1 {word}".rstrip(), Kind("reading", dimension, -1e12, 1e12, "1"))
        except QuantityError:
            continue
        return dimension, unit, most
    raise RefusedInput(
        f"the readings' unit '{word}' is neither of length nor of stress", where=path, hint=_HINT
    )
