"""The last maps that were read, for the further lines that are taken from them.

They are kept as long as the process lives.  No result can depend on that: a map is found by the
hash of the file's bytes, which are passed over anew for every line, and its arrays are read-only.
Threads that come at once may read a map twice; no step here leaves the dictionary half done.
"""

from __future__ import annotations

from dataclasses import replace

from filmstress.records.scan import HeightMap, ReadingOptions
from filmstress.scans.reading.source import Source

# A wafer before, the wafer after, and a flat; larger maps are read again for each line.
_MOST = 3
_LARGEST_BYTES = 64 << 20

_Key = tuple[str, str, ReadingOptions]
_kept: dict[_Key, HeightMap] = {}


def kept_map(source: Source, options: ReadingOptions) -> HeightMap | None:
    """The map that these very bytes were found to hold, if they were read lately."""
    return _kept.get(_key(source, options))


def keep_map(source: Source, options: ReadingOptions, height_map: HeightMap) -> None:
    """Keep a map in place of the oldest; it cannot be written to from then on."""
    key = _key(source, options)
    if key in _kept or height_map.z.nbytes > _LARGEST_BYTES:
        return
    for values in (height_map.x, height_map.y, height_map.z):
        values.setflags(write=False)
    for oldest in list(_kept)[: 1 - _MOST]:
        _kept.pop(oldest, None)
    _kept[key] = height_map


def forget_maps() -> None:
    """Keep no map any more: the next line of one reads its file."""
    _kept.clear()


def _key(source: Source, options: ReadingOptions) -> _Key:
    return source.path, source.sha256, replace(options, line_azimuth=None)
