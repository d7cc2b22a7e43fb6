"""X3P files (ISO 25178-72:2017 and Amd 1:2020): a profile or a map, in metres."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, ReadingOptions
from filmstress.scans.reading.choice import choose_number
from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.points import (
    Floats,
    Missing,
    height_map,
    metres,
    not_finite,
    profile,
)
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.traces import Table
from filmstress.scans.reading.x3p.container import DESCRIPTION, Archive
from filmstress.scans.reading.x3p.description import Axis, Description, describe
from filmstress.scans.reading.x3p.markup import read_markup
from filmstress.scans.reading.x3p.points import Points

_CHECKSUM_FILE = "md5checksum.hex"  # where the description does not name it
# Points written as text make it long.
_MAX_XML_BYTES = 32 << 20
# A line scan lies on a line: it leaves it by this part of its length at most.
_MAX_OFF_LINE = 0.01


def check(source: Source, options: ReadingOptions) -> None:
    """Check everything about an X3P file but its points.

    Raises
    ------
    ScanError
        As `read`.
    """
    metres("CX", "CZ", options, source.name)
    with _opened(source) as (description, points, _):
        choose_number(options.trace, description.layers, "layer", source.name)
        points.check()


def read(source: Source, options: ReadingOptions) -> Table | HeightMap:
    """Read an X3P file, which has been made by others and may have been made to do harm.

    Raises
    ------
    ScanError
        A damaged archive, a checksum that differs, a member of the wrong size, entities, a
        point cloud, a rotation that tips the heights, numbers that are none.
    """
    columns = metres("CX", "CZ", options, source.name)
    with _opened(source) as (description, points, notes):
        layer = choose_number(options.trace, description.layers, "layer", source.name)
        x, y, z = points.read(layer)
        missing = not_finite(z, "height")
        if (valid := points.valid(layer)) is not None:
            missing.append(Missing("height marked as not valid", ~valid))
        notes += points.notes
    if description.rows > 1:
        found = _map(description, x, y, z, missing, source, columns, notes)
        if description.layers == 1:
            return found
        note = f"layer {layer + 1} of {description.layers}"
        told = replace(found.source, trace=layer + 1, notes=(note, *found.source.notes))
        return replace(found, source=told)
    along = _along(description, x, y, missing, notes, source.name)
    table = profile(along, z, missing, columns, notes)
    return replace(table, number=layer + 1, among=description.layers)


def rows_of(source: Source) -> int:
    """Rows of points: 1 for a profile.

    Raises
    ------
    ScanError
        If the description cannot be read.
    """
    with _opened(source) as (description, _, _):
        return description.rows


@contextmanager
def _opened(source: Source) -> Iterator[tuple[Description, Points, list[str]]]:
    with source.binary() as stream:
        archive = Archive(stream, source.name)
        info = archive.member(DESCRIPTION)
        assert info is not None  # an archive without one is refused
        data = archive.read(info, _MAX_XML_BYTES)
        markup = read_markup(data.tobytes(), source.name, info.filename)
        description = describe(markup.texts, source.name)
        notes = list(description.notes)
        stated = archive.read_checksum(markup.texts.get("Record4/ChecksumFile") or _CHECKSUM_FILE)
        if stated is None:
            notes.append(f"{info.filename} has no checksum: that it is undamaged is not verified")
        else:
            archive.check_md5(data, stated, info.filename)
        yield description, Points(description, archive, markup.datums), notes


def _along(
    description: Description,
    x: Floats | None,
    y: Floats | None,
    missing: list[Missing],
    notes: list[str],
    where: str,
) -> Floats:
    """Positions along a profile [m]: x, or where y changes as well the way from the first point."""
    if x is None:
        x = _by_index(description.axes[0], description.columns)
    else:
        missing += not_finite(x, "position")
    if y is None:
        return x
    missing += not_finite(y, "position")
    known = np.isfinite(x) & np.isfinite(y)
    for one in missing:
        known &= ~one.points
    if not known.any() or float(np.ptp(y[known])) == 0.0:
        return x
    first, last = np.flatnonzero(known)[[0, -1]]
    with np.errstate(invalid="ignore", over="ignore"):
        right, up = x - x[first], y - y[first]
        way: Floats = np.hypot(right, up)
        length = float(way[last])
        off = np.abs(right * up[last] - up * right[last])[known].max()
    if not off <= _MAX_OFF_LINE * length**2:
        raise ScanError(
            "its points do not lie on one straight line in x and y",
            where=where,
            hint="export one line scan",
        )
    notes.append("x and y both change: positions are distances from the first point")
    return way


def _map(
    description: Description,
    x: Floats | None,
    y: Floats | None,
    z: Floats,
    missing: list[Missing],
    source: Source,
    columns: Columns,
    notes: list[str],
) -> HeightMap:
    if x is not None or y is not None:
        raise ScanError(
            "is a map whose positions are stored point by point; want an even grid "
            "(AxisType I for CX and CY)",
            where=source.name,
            hint="export it as an even grid",
        )
    shape = description.rows, description.columns
    return height_map(
        _by_index(description.axes[0], description.columns),
        _by_index(description.axes[1], description.rows),
        z.reshape(shape),
        [Missing(one.reason, one.points.reshape(shape)) for one in missing],
        source,
        columns,
        notes,
    )


def _by_index(axis: Axis, count: int) -> Floats:
    positions = np.arange(count, dtype=np.float64)
    positions *= axis.increment
    if axis.offset != 0.0:
        positions += axis.offset
    return positions
