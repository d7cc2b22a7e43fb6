"""Files of the open standards, by what they are; the bounds of a map."""

from __future__ import annotations

import gzip
import math
import zlib
from contextlib import suppress
from pathlib import Path
from typing import Protocol

import numpy as np

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, ReadingOptions
from filmstress.scans.reading.bounds import MAX_LENGTH_M, MAX_RANGE_M, MIN_LENGTH_M, MIN_POINTS
from filmstress.scans.reading.formats import Format, format_of
from filmstress.scans.reading.numerals import counted
from filmstress.scans.reading.source import STDIN, Source, is_gzip
from filmstress.scans.reading.survey import HEAD_BYTES
from filmstress.scans.reading.traces import Table
from filmstress.units.say import readable


def read_open(source: Source, options: ReadingOptions) -> Table | HeightMap | None:
    """What a file of an open standard holds, a profile or a map; None if it is not one.

    Raises
    ------
    ScanError
        If it cannot be read; if a map is out of the bounds of a scan.
    """
    reader = _reader(source)
    if reader is None:
        return None
    found = reader.read(source, options)
    if isinstance(found, HeightMap):
        _check_map(found, source.name)
    return found


def check_open(source: Source, options: ReadingOptions) -> bool:
    """Check what precedes the points in a file of an open standard; False if it is not one.

    Raises
    ------
    ScanError
        As `read_open`.
    """
    reader = _reader(source)
    if reader is not None:
        reader.check(source, options)
    return reader is not None


def is_map(source: Source) -> bool:
    """Whether the file is of an open standard, and holds a map.

    Raises
    ------
    ScanError
        If what precedes the points cannot be read.
    """
    reader = _reader(source)
    return reader is not None and reader.rows_of(source) > 1


def may_be_open(path: str) -> bool:
    """Whether the first bytes of a file are those of an open standard, packed or not."""
    if path == STDIN or not Path(path).is_file():  # a pipe could be waited for without end
        return False
    with Path(path).open("rb") as file:
        head = file.read(HEAD_BYTES)
    if is_gzip(head):
        with suppress(EOFError, zlib.error), gzip.open(path) as packed:
            head = packed.read(HEAD_BYTES)
    return format_of(head) is not Format.TEXT


class _Reader(Protocol):
    """What the readers of the formats have in common."""

    def read(self, source: Source, options: ReadingOptions) -> Table | HeightMap: ...
    def check(self, source: Source, options: ReadingOptions) -> None: ...
    def rows_of(self, source: Source) -> int: ...


def _reader(source: Source) -> _Reader | None:
    """The reader of an open format; loaded here, since most files are text."""
    kind = format_of(source.head)
    if kind is Format.X3P:
        from filmstress.scans.reading.x3p import reading as x3p

        return x3p
    if kind is Format.SDF:
        from filmstress.scans.reading.sdf import reading as sdf

        return sdf
    _check_not_smd(source)
    return None


def _check_not_smd(source: Source) -> None:
    if source.path.lower().endswith(".smd"):
        raise ScanError(
            "is an SMD file (ISO 5436-2), which is not supported",
            where=source.name,
            hint="export the scan as X3P, SDF or delimited text",
        )


def _check_map(height_map: HeightMap, where: str) -> None:
    rows, columns = height_map.z.shape
    measured = int(np.count_nonzero(np.isfinite(height_map.z)))
    if measured < MIN_POINTS or columns < 2:
        raise ScanError(
            f"is a map of {columns} x {rows} heights with {counted(measured, 'point')} measured; "
            f"want {MIN_POINTS} or more, in two columns or more",
            where=where,
            hint="export the scan again",
        )
    sides = float(np.ptp(height_map.x)), float(np.ptp(height_map.y))
    if not (max(sides) <= MAX_LENGTH_M and math.hypot(*sides) >= MIN_LENGTH_M):
        wide, high = (readable(side, "length") for side in sides)
        raise ScanError(
            f"the map would be {wide} by {high} wide; want 1 mm to 1 m",
            where=where,
            hint="is the step in the file really in metres?",
        )
    low, high_m = float(np.nanmin(height_map.z)), float(np.nanmax(height_map.z))
    if high_m - low > MAX_RANGE_M:
        raise ScanError(
            f"the heights would differ by {readable(high_m - low, 'length')}; want 20 mm or less",
            where=where,
            hint="are the heights in the file really in metres?",
        )
