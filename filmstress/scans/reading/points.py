"""Points of files that are no tables: which were measured, and what they are in metres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError
from filmstress.records.scan import HeightMap, LeftOut, ReadingOptions, ScanSource
from filmstress.scans.reading.column_units import Unit
from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.numerals import shown
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.traces import Table
from filmstress.units.words import is_unit_word, unit_factor

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

MAX_POINTS = 50_000_000
POINT = "point"
_METRE = Unit("m", 1.0, stated=False)


@dataclass(frozen=True, slots=True)
class Missing:
    """Points without a height, and why."""

    reason: str
    points: Mask


def not_finite(values: Floats, what: str) -> list[Missing]:
    """Points whose value is NaN, and those where it is infinite."""
    if np.isfinite(values).all():
        return []
    nan = np.isnan(values)
    return [Missing(f"no {what}", nan), Missing(f"infinite {what}", ~(np.isfinite(values) | nan))]


def profile(
    x: Floats, z: Floats, missing: Sequence[Missing], columns: Columns, notes: Sequence[str]
) -> Table:
    """Points of a profile in the order of the file, those that were not measured left out.

    Parameters
    ----------
    x, z : ndarray of float64, shape (n,)
        Positions and heights [m].
    missing : sequence of Missing
        A point is counted under the first reason that it has.
    columns : Columns
        What the file calls them.
    notes : sequence of str
        How they were read.
    """
    rows = len(z)
    out, left_out = _sorted_out(missing)
    kept = None if out is None else np.flatnonzero(~out)
    if kept is not None:
        x, z = x[kept], z[kept]
    return Table(
        x,
        z,
        columns,
        rows,
        left_out,
        (*columns.notes, *notes),
        lambda index: int(index if kept is None else kept[index]) + 1,
        counted=POINT,
    )


def height_map(
    x: Floats,
    y: Floats,
    z: Floats,
    missing: Sequence[Missing],
    source: Source,
    columns: Columns,
    notes: Sequence[str],
) -> HeightMap:
    """A map of heights, NaN where none was measured."""
    out, left_out = _sorted_out(missing)
    if out is not None:
        z = z.copy()
        z[out] = np.nan
    return HeightMap(
        x,
        y,
        z,
        ScanSource(
            path=source.path,
            sha256=source.sha256,
            position_unit="m",
            height_unit="m",
            position_column=columns.position_name,
            height_column=columns.height_name,
            rows=z.size,
            left_out=left_out,
            notes=(*columns.notes, *notes),
        ),
    )


def _sorted_out(missing: Sequence[Missing]) -> tuple[Mask | None, tuple[LeftOut, ...]]:
    out: Mask | None = None
    left_out = []
    for one in missing:
        new = one.points if out is None else one.points & ~out
        if count := int(np.count_nonzero(new)):
            left_out.append(LeftOut(one.reason, count, int(np.argmax(new)) + 1, POINT))
            out = new if out is None else out | new
    return out, tuple(left_out)


def metres(position: str, height: str, options: ReadingOptions, where: str) -> Columns:
    """Columns of a file that knows its own axes, in metres.

    Raises
    ------
    ScanError
        Something else is stated.
    """
    if options.columns is not None or options.interval is not None:
        option = "--columns" if options.columns is not None else "--interval"
        raise ScanError(
            f"{option} was stated, but the file knows its own axes",
            where=where,
            hint=f"leave {option} away",
        )
    for axis, word in (("position", options.position_unit), ("height", options.height_unit)):
        if word is not None and not _is_metre(word):
            raise ScanError(
                f"the file gives the {axis} in 'm', but {shown(word)} was stated",
                where=where,
                hint=f"leave --{axis}-unit away; files of this format are always in metres",
            )
    return Columns(0, 1, position, height, _METRE, _METRE, ())


def _is_metre(word: str) -> bool:
    return is_unit_word(word, "length") and unit_factor(word, "length") == 1.0
