"""The checks of a table of points before it is taken for a scan."""

from __future__ import annotations

import numpy as np

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut, Scan, ScanSource
from filmstress.scans.reading.bounds import MAX_LENGTH_M, MAX_RANGE_M, MIN_LENGTH_M, MIN_POINTS
from filmstress.scans.reading.choice import label_of
from filmstress.scans.reading.column_units import Unit
from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.numerals import counted
from filmstress.scans.reading.order import Ordered, TurnsBack, put_in_order
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.traces import Table
from filmstress.units.say import plain, readable
from filmstress.units.words import unit_factor


def checked(source: Source, table: Table, least_length: float = MIN_LENGTH_M) -> Scan:
    """The scan that the points of a file make, in order.

    Parameters
    ----------
    source : Source
        The file.
    table : Table
        Its points.
    least_length : float
        Shortest scan that is taken for one [m].

    Raises
    ------
    ScanError
        Too few points, positions in no order, or a length or range of heights that no scan has.
    """
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
