"""The door to maps of heights: X3P and SDF files that hold more than one row."""

from __future__ import annotations

import os
from contextlib import suppress

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, ReadingOptions
from filmstress.scans.reading.kept_maps import keep_map, kept_map
from filmstress.scans.reading.open_formats import is_map, may_be_open, read_open
from filmstress.scans.reading.opened import check_not_foreign, opened
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.traces import Table

_NOTHING_STATED = ReadingOptions()


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
    with opened(path) as source:
        found = read_kept(source, options)
        if not isinstance(found, HeightMap):
            if found is None:
                check_not_foreign(source)
            raise ScanError(
                f"is {'a table of text' if found is None else 'a single scan'}; "
                "want a map of heights",
                where=source.name,
                hint="maps are read from X3P and SDF files",
            )
        source.check_unchanged()
        return found


def holds_map(path: str | os.PathLike[str]) -> bool:
    """Whether a file is a map of heights, by what precedes its points; False if it is damaged.

    Standard input is not looked at, for it can be read only once.
    """
    path = os.fspath(path)
    with suppress(ScanError, OSError):
        if may_be_open(path):
            with opened(path) as source:
                return is_map(source)
    return False


def read_kept(source: Source, options: ReadingOptions) -> Table | HeightMap | None:
    """What a file of an open standard holds; maps are kept for the lines taken from them later.

    Raises
    ------
    ScanError
        As `filmstress.scans.reading.open_formats.read_open`.
    """
    found = kept_map(source, options) or read_open(source, options)
    if isinstance(found, HeightMap):
        keep_map(source, options, found)
    return found
