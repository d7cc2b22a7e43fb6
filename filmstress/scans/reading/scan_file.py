"""The door: a scan file of any kind, by its content, to a checked ``Scan``."""

from __future__ import annotations

import math
import os
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import numpy as np

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, LeftOut, ReadingOptions, Scan, ScanSource
from filmstress.scans.map_line import scan_of_map
from filmstress.scans.reading.bounds import MAX_LENGTH_M, MAX_RANGE_M, MIN_LENGTH_M, MIN_POINTS
from filmstress.scans.reading.choice import check_choice, choose, label_of
from filmstress.scans.reading.column_units import Unit
from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.kept_maps import keep_map, kept_map
from filmstress.scans.reading.numerals import counted
from filmstress.scans.reading.open_formats import check_open, is_map, may_be_open, read_open
from filmstress.scans.reading.order import Ordered, TurnsBack, put_in_order
from filmstress.scans.reading.source import Source, open_source
from filmstress.scans.reading.text import read_head, read_text
from filmstress.scans.reading.traces import Table
from filmstress.units.say import plain, readable
from filmstress.units.words import unit_factor

_NOTHING_STATED = ReadingOptions()
# The lines of a map that stand for it where none is asked for.
SHOWN_LINES_DEG = (0.0, 90.0)

# First bytes of files that are sometimes taken for a scan, and what they are.
_FOREIGN = (
    (b"\xd0\xcf\x11\xe0", "a spreadsheet or document"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"II*\0", "a picture (TIFF)"),
    (b"MM\0*", "a picture (TIFF)"),
    (b"%PDF", "a PDF document"),
    (b"\x89HDF", "an HDF5 file"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"7z\xbc\xaf", "a 7-zip archive"),
    (b"\x28\xb5\x2f\xfd", "a zstandard archive"),
    (b"\x7fELF", "a program"),
    (b"\x93NUMPY", "a numpy array"),
    (b"SQLite format", "a database"),
    (b"<?xml", "an XML file"),
    (b"<!DOCTYPE", "an HTML page"),
    (b"<html", "an HTML page"),
)


def read_scan(
    path: str | os.PathLike[str],
    options: ReadingOptions = _NOTHING_STATED,
    *,
    least_length_m: float = MIN_LENGTH_M,
) -> Scan:
    """Read a height scan.

    Delimited text is read: comma, semicolon, tab or blanks; decimal point or comma; UTF-8, UTF-16
    or Latin-1; plain or gzip.  Units and columns come from the header or from ``options``.  What
    neither says is refused, never guessed, and every line that does not become a point is counted
    in ``source.left_out``.  X3P (ISO 25178-72) and SDF (ISO 25178-71) files are known by their
    content and bring their own axes; of a map of heights, the line in the direction
    ``options.line_azimuth`` is taken (`filmstress.scans.map_line`).

    Parameters
    ----------
    path : path
        File, or "-" for standard input.
    options : ReadingOptions
        What the file leaves open.
    least_length_m : float
        Shortest scan that is taken for one [m]; shorter ones are thought to be in another unit.

    Returns
    -------
    Scan
        At least 10 points; positions [m] strictly increasing, from ``least_length_m`` to 1 m
        long; heights [m] finite and within 20 mm of each other.

    Raises
    ------
    ScanError
        With file, line and column, what was found, and how to state or mend it.
    """
    path = os.fspath(path)
    with _told(path), open_source(path) as source:
        found = _read_open(source, options)
        if found is None:
            _check_not_foreign(source)
            found = choose(read_text(source, options), options.trace, source.name)
        scan = _scan_of(source, found, options, least_length_m)
        source.check_unchanged()
        return scan


def read_scans(
    path: str | os.PathLike[str], options: ReadingOptions = _NOTHING_STATED
) -> tuple[Scan | ScanError, ...]:
    """Read every scan of a file, or the one that ``options.trace`` names.

    Of a map of heights, where no direction is stated, the lines along 0 and 90 deg.

    Returns
    -------
    tuple of Scan or ScanError
        In the order of the file; for one that cannot be used, why.

    Raises
    ------
    ScanError
        If the file cannot be read, or its only scan.
    """
    path = os.fspath(path)
    with _told(path), open_source(path) as source:
        one = _read_open(source, options)
        if one is None:
            _check_not_foreign(source)
            tables = read_text(source, options)
            if options.trace is not None or len(tables) == 1:
                one = choose(tables, options.trace, source.name)
        if one is None:
            found = tuple(_tried(source, table) for table in tables)
        elif isinstance(one, HeightMap) and options.line_azimuth is None:
            found = tuple(scan_of_map(one, math.radians(angle)) for angle in SHOWN_LINES_DEG)
        else:
            found = (_scan_of(source, one, options, MIN_LENGTH_M),)
        source.check_unchanged()
        return found


def _read_open(source: Source, options: ReadingOptions) -> Table | HeightMap | None:
    found = kept_map(source, options) or read_open(source, options)
    if isinstance(found, HeightMap):
        keep_map(source, options, found)
    return found


def _tried(source: Source, table: Table) -> Scan | ScanError:
    try:
        return _checked(source, table)
    except ScanError as error:
        return error


def _scan_of(
    source: Source, found: Table | HeightMap, options: ReadingOptions, least_length: float
) -> Scan:
    if isinstance(found, HeightMap):
        return _line_of(found, options)
    return _checked(source, found, least_length)


def read_map(path: str | os.PathLike[str], options: ReadingOptions = _NOTHING_STATED) -> HeightMap:
    """Read a map of heights from an X3P or SDF file.

    Parameters
    ----------
    path, options
        As of `read_scan`.

    Returns
    -------
    HeightMap
        An even grid of at most 50 million points, at least 10 of them measured; each side up to
        1 m and the longer one 1 mm at least; heights [m] within 20 mm of each other, NaN where
        none was measured.

    Raises
    ------
    ScanError
        As `read_scan`, and if the file holds no map.
    """
    path = os.fspath(path)
    with _told(path), open_source(path) as source:
        found = _read_open(source, options)
        if not isinstance(found, HeightMap):
            if found is None:
                _check_not_foreign(source)
            raise ScanError(
                f"is {'a table of text' if found is None else 'a single scan'}; "
                "want a map of heights",
                where=source.name,
                hint="maps are read from X3P and SDF files",
            )
        source.check_unchanged()
        return found


def check_head(path: str | os.PathLike[str], options: ReadingOptions = _NOTHING_STATED) -> None:
    """Check that a file is a scan as far as its first rows say: columns, units, numbers.

    Raises
    ------
    ScanError
        As `read_scan`.
    """
    path = os.fspath(path)
    with _told(path), open_source(path) as source:
        if not check_open(source, options):
            _check_not_foreign(source)
            check_choice(read_head(source, options).choices, options.trace, source.name)


def _line_of(height_map: HeightMap, options: ReadingOptions) -> Scan:
    """The scan along one line of a map, in the direction that the options state."""
    if options.line_azimuth is not None:
        return scan_of_map(height_map, options.line_azimuth)
    rows, columns = height_map.z.shape
    raise ScanError(
        f"is a map of {columns} x {rows} heights; want the line to take from it",
        where=height_map.source.path,
        hint='say its direction, through the middle of the map: --azimuth "0 deg"',
    )


def holds_map(path: str | os.PathLike[str]) -> bool:
    """Whether a file is a map of heights, by what precedes its points; False if it is damaged.

    Standard input is not looked at, for it can be read only once.
    """
    path = os.fspath(path)
    with suppress(ScanError), _told(path):
        if may_be_open(path):
            with open_source(path) as source:
                return is_map(source)
    return False


@contextmanager
def _told(path: str) -> Iterator[None]:
    """What the system says of a file, in the words of a `ScanError`."""
    try:
        yield
    except FileNotFoundError as error:
        raise ScanError(
            "no such file",
            where=path,
            hint="check the name; in a lot file, paths start from its folder",
        ) from error
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ScanError(f"cannot be read ({reason.lower()})", where=path) from error
    except MemoryError as error:
        raise ScanError(
            "is too large for the memory of this machine", where=path, hint="thin the scan out"
        ) from error


def _check_not_foreign(source: Source) -> None:
    for magic, what in _FOREIGN:
        if source.head.startswith(magic):
            raise ScanError(
                f"is {what}, not a scan",
                where=source.name,
                hint="export the scan as delimited text",
            )


def _checked(source: Source, table: Table, least_length: float = MIN_LENGTH_M) -> Scan:
    several = table.among > 1
    where = f"{source.name} #{table.number}" if several else source.name
    columns = table.columns
    _check_count(len(table.x), table, where)
    _check_length(table, where, least_length)
    ordered = put_in_order(table.x, table.z)
    if isinstance(ordered, TurnsBack):
        number = table.line_of(ordered.index)
        raise ScanError(
            f"positions turn back here by {readable(ordered.back_m, 'length')}, and are in no "
            "order that a scan could have",
            where=where if table.counted == "line" else f"{where}, {table.counted} {number}",
            hint="if another column holds the position, name it: --columns 1,3"
            if table.counted == "line"
            else "export one scan in one direction",
            line=number if table.counted == "line" else None,
        )
    _check_count(len(ordered.x), table, where)
    _check_range(columns, ordered, where)
    left_out = table.left_out
    if ordered.merged:
        reason = "same position as another row; their heights were averaged"
        line = table.line_of(ordered.first_merged)
        left_out = (*left_out, LeftOut(reason, ordered.merged, line, table.counted))
    return Scan(
        ordered.x,
        ordered.z,
        ScanSource(
            path=source.path,
            sha256=source.sha256,
            position_unit=columns.position_unit.word,
            height_unit=columns.height_unit.word,
            position_column=columns.position_name,
            height_column=columns.height_name,
            rows=table.rows,
            left_out=left_out,
            notes=(*((label_of(table),) if several else ()), *table.notes, *ordered.notes),
            trace=table.number if several else None,
            trace_name=table.name if several else "",
        ),
    )


def _check_count(points: int, table: Table, where: str) -> None:
    if points < MIN_POINTS:
        left = "".join(f"; {one.count} left out: {one.reason}" for one in table.left_out)
        raise ScanError(
            f"has {counted(points, 'point')}{left}; want {MIN_POINTS} or more",
            where=where,
            hint="a scan is a text table of positions and heights, one point a line"
            if table.counted == "line"
            else "export the whole scan",
        )


def _check_length(table: Table, where: str, least: float) -> None:
    columns = table.columns
    low, high = float(table.x.min()), float(table.x.max())
    if not least <= high - low <= MAX_LENGTH_M:
        unit = columns.position_unit
        if columns.position is None:
            found, option = f"an interval of {readable(unit.factor, 'length')}", "--interval"
            hint = "is the sampling interval right?"
        else:
            found, option = _found(low, high, unit), "--position-unit"
            hint = _unit_hint(high - low, unit, option, least, MAX_LENGTH_M)
        raise ScanError(
            f"the scan would be {readable(high - low, 'length')} long ({found}); "
            f"want {readable(least, 'length')} to 1 m",
            where=where,
            hint=hint,
        )


def _check_range(columns: Columns, ordered: Ordered, where: str) -> None:
    low, high = float(np.min(ordered.z)), float(np.max(ordered.z))
    if high - low > MAX_RANGE_M:
        unit = columns.height_unit
        raise ScanError(
            f"the heights would differ by {readable(high - low, 'length')} "
            f"({_found(low, high, unit)}); want 20 mm or less",
            where=where,
            hint=_unit_hint(high - low, unit, "--height-unit", 0.0, MAX_RANGE_M),
        )


def _found(low: float, high: float, unit: Unit) -> str:
    numbers = (plain(value / unit.factor, 6) for value in (low, high))
    return f"{' to '.join(numbers)} in {unit.word}"


def _unit_hint(span: float, unit: Unit, option: str, low: float, high: float) -> str:
    """Ask whether the unit is right, with those that would make the file plausible."""
    possible = [
        word
        for word in ("m", "mm", "um", "nm")
        if low <= span / unit.factor * unit_factor(word, "length") <= high
    ]
    question = f"is the unit {unit.word} right?"
    if possible:
        question += f" {' or '.join(possible)} would be plausible"
    return f"{question}; {f'see {option}' if unit.stated else 'mend it in the header'}"
