"""SDF files (ISO 25178-71, and the proposal BCR-1.0): a profile or a map, in metres."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, ReadingOptions
from filmstress.scans.reading.choice import choose_number
from filmstress.scans.reading.numerals import counted
from filmstress.scans.reading.points import (
    Floats,
    Mask,
    Missing,
    height_map,
    metres,
    not_finite,
    profile,
)
from filmstress.scans.reading.sdf.header import (
    Header,
    is_binary,
    read_binary_header,
    read_text_header,
)
from filmstress.scans.reading.sdf.text import read_text_heights
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.traces import Table

# From here on a float of BCR-1.0 marks a missing point, by its size in bytes.
_HIGHEST_FLOATS = {4: 3.4e38, 8: 1.7e308}


def check(source: Source, options: ReadingOptions) -> None:
    """Check the header of an SDF file.

    Raises
    ------
    ScanError
        As `read`.
    """
    metres("x", "z", options, source.name)
    choose_number(options.trace, 1, "scan", source.name)
    header = _header(source)
    if is_binary(source.head):
        _check_size(header, source)


def read(source: Source, options: ReadingOptions) -> Table | HeightMap:
    """Read an SDF file.

    Raises
    ------
    ScanError
        A version or a type that is not known, a header that contradicts itself, more or fewer
        heights than it says, words that are no numbers.
    """
    columns = metres("x", "z", options, source.name)
    choose_number(options.trace, 1, "scan", source.name)
    header = _header(source)
    notes = list(header.notes)
    missing: list[Missing] = []
    with source.binary() as stream:
        if is_binary(source.head):
            if more := _check_size(header, source):
                notes.append(f"{counted(more, 'byte')} behind the heights passed over")
            stream.seek(header.start)
            stored = np.empty(header.count, header.dtype)
            stream.readinto(stored.view(np.uint8))  # type: ignore[attr-defined]
            marks = _marked(stored, header)
            heights = stored.astype(np.float64, copy=False)
            reason = "no height"
        else:
            heights, remarks = read_text_heights(stream, header, source.name)
            notes += remarks
            marks = _marked(heights, header)
            missing += not_finite(heights, "height")[:1]  # the word BAD
            reason = "no height"
            if not header.rules.highest_is_missing:
                reason = "a number that marks missing points in binary files"
    if marks.any():
        missing.append(Missing(reason, marks))
    with np.errstate(over="ignore", invalid="ignore"):
        z: Floats = heights if header.z_scale == 1.0 else heights * header.z_scale
    missing += not_finite(z, "height")
    x = _steps(header.columns, header.x_step)
    if header.rows == 1:
        return profile(x, z, missing, columns, notes)
    shape = header.rows, header.columns
    return height_map(
        x,
        _steps(header.rows, header.y_step),
        z.reshape(shape),
        [Missing(one.reason, one.points.reshape(shape)) for one in missing],
        source,
        columns,
        notes,
    )


def rows_of(source: Source) -> int:
    """Rows of heights: 1 for a profile.

    Raises
    ------
    ScanError
        If the header cannot be read.
    """
    return _header(source).rows


def _header(source: Source) -> Header:
    read = read_binary_header if is_binary(source.head) else read_text_header
    return read(source.head, source.name)


def _check_size(header: Header, source: Source) -> int:
    """Bytes behind the heights, which are remarks; raise if the heights are not all there."""
    want, found = header.count * header.dtype.itemsize, source.size - header.start
    if found < want:
        raise ScanError(
            f"has {found} bytes of heights; its header says {header.columns} x {header.rows} of "
            f"{header.dtype.itemsize} bytes, {want} in all",
            where=source.name,
            hint="copy it again from where it was made",
        )
    return found - want


def _marked(stored: NDArray[Any], header: Header) -> Mask:
    """Which stored numbers stand for a point that was not measured."""
    dtype = header.dtype
    if not header.rules.highest_is_missing:
        if dtype.kind == "u":  # the lowest is 0, a height like any other
            return np.zeros(stored.shape, dtype=np.bool_)
        lowest = np.finfo(dtype).min if dtype.kind == "f" else np.iinfo(dtype).min
        return np.asarray(stored == lowest)
    if dtype.kind == "f":
        return np.asarray(stored >= _HIGHEST_FLOATS[dtype.itemsize])
    return np.asarray(stored == np.iinfo(dtype).max)


def _steps(count: int, step: float) -> Floats:
    positions: Floats = np.arange(count, dtype=np.float64) * step
    return positions
