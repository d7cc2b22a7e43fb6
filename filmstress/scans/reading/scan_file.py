"""The door: a scan file of any kind, by its content, to a checked ``Scan``."""

from __future__ import annotations

import os

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, ReadingOptions, Scan
from filmstress.scans.map_line import scan_of_map
from filmstress.scans.reading.bounds import MIN_LENGTH_M
from filmstress.scans.reading.checked import checked
from filmstress.scans.reading.choice import check_choice, choose
from filmstress.scans.reading.map_file import read_kept
from filmstress.scans.reading.open_formats import check_open
from filmstress.scans.reading.opened import check_not_foreign, opened
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.text import read_head, read_text
from filmstress.scans.reading.traces import Table

_NOTHING_STATED = ReadingOptions()


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
    with opened(path) as source:
        found = read_kept(source, options)
        if found is None:
            check_not_foreign(source)
            found = choose(read_text(source, options), options.trace, source.name)
        scan = _scan_of(source, found, options, least_length_m)
        source.check_unchanged()
        return scan


def read_scans(
    path: str | os.PathLike[str], options: ReadingOptions = _NOTHING_STATED
) -> tuple[Scan | ScanError, ...] | HeightMap:
    """Read every scan of a file, or the one that ``options.trace`` names.

    Returns
    -------
    tuple of Scan or ScanError, or HeightMap
        In the order of the file; for one that cannot be used, why.  Of a map of heights the line
        in the direction that is stated, or else the map itself.

    Raises
    ------
    ScanError
        If the file cannot be read, or its only scan.
    """
    path = os.fspath(path)
    with opened(path) as source:
        one = read_kept(source, options)
        if one is None:
            check_not_foreign(source)
            tables = read_text(source, options)
            if options.trace is not None or len(tables) == 1:
                one = choose(tables, options.trace, source.name)
        if one is None:
            found = tuple(_tried(source, table) for table in tables)
        elif isinstance(one, HeightMap) and options.line_azimuth is None:
            source.check_unchanged()
            return one
        else:
            found = (_scan_of(source, one, options, MIN_LENGTH_M),)
        source.check_unchanged()
        return found


def _tried(source: Source, table: Table) -> Scan | ScanError:
    try:
        return checked(source, table)
    except ScanError as error:
        return error


def _scan_of(
    source: Source, found: Table | HeightMap, options: ReadingOptions, least_length: float
) -> Scan:
    if isinstance(found, HeightMap):
        return _line_of(found, options)
    return checked(source, found, least_length)


def check_head(path: str | os.PathLike[str], options: ReadingOptions = _NOTHING_STATED) -> None:
    """Check that a file is a scan as far as its first rows say: columns, units, numbers.

    Raises
    ------
    ScanError
        As `read_scan`.
    """
    path = os.fspath(path)
    with opened(path) as source:
        if not check_open(source, options):
            check_not_foreign(source)
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
