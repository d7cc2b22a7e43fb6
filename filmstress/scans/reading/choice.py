"""Which of several scans in one file is meant."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from filmstress.errors import ScanError
from filmstress.scans.reading.columns import Columns
from filmstress.scans.reading.numerals import counted, index_of, shown
from filmstress.scans.reading.traces import Table
from filmstress.units.say import readable

_MOST_LISTED = 12
_TRACE = (
    '--trace 2 (in a lot file trace = "2", or pre_trace and post_trace where one file holds both '
    "scans)"
)
_HINT = f"choose one by its number or name: {_TRACE}"
_BY_NUMBER = f"choose one by its number from 1: {_TRACE}"
_LEAVE = "leave --trace away"


def choose(tables: Sequence[Table], wanted: str | None, where: str) -> Table:
    """The scan that is meant.

    Parameters
    ----------
    tables : sequence of Table
        All scans of the file.
    wanted : str or None
        Its number, from 1, or its name: what the file calls it, or its column of heights.
    where : str
        Name of the file.

    Raises
    ------
    ScanError
        With a list of what is there, if none is stated of several, or none is so called.
    """
    if wanted is None:
        if len(tables) == 1:
            return tables[0]
        raise ScanError(f"holds {_listing(tables)}", where=where, hint=_HINT)
    wanted = wanted.strip()
    is_number = wanted.isascii() and wanted.isdigit()
    if is_number:
        index = index_of(wanted, len(tables))
        found = [] if index is None else [tables[index]]
    else:
        found = [one for one in tables if _is_called(wanted, one.name, one.columns)]
    if len(found) == 1:
        return found[0]
    which = "several scans are" if found else "no scan is"
    raise ScanError(
        f"{which} {'number' if is_number else 'called'} {shown(wanted)}; the file holds "
        f"{_listing(tables)}",
        where=where,
        hint=_HINT if len(tables) > 1 else _LEAVE,
    )


def choose_number(wanted: str | None, count: int, what: str, where: str) -> int:
    """Index of the one that is meant of several that have no names; the only one needs no number.

    Parameters
    ----------
    wanted : str or None
        Its number, from 1.
    count : int
        How many there are.
    what : str
        What each of them is: "layer".
    where : str
        Name of the file.

    Raises
    ------
    ScanError
        There is no such one, or several and none is stated.
    """
    if wanted is None and count == 1:
        return 0
    if wanted is None:
        raise ScanError(f"holds {counted(count, what)}; want one", where=where, hint=_BY_NUMBER)
    index = index_of(wanted.strip(), count)
    if index is None:
        raise ScanError(
            f"has no {what} {shown(wanted)}; the file holds {counted(count, what)}",
            where=where,
            hint=_BY_NUMBER if count > 1 else _LEAVE,
        )
    return index


def check_choice(choices: Sequence[Columns], wanted: str | None, where: str) -> None:
    """Raise if the columns of several scans stand side by side and none of them is stated."""
    if wanted is None and len(choices) > 1:
        names = ", ".join(f"{i} {shown(one.height_name)}" for i, one in enumerate(choices, 1))
        raise ScanError(f"holds {len(choices)} scans: {names}", where=where, hint=_HINT)


def label_of(table: Table) -> str:
    """A note on which scan of a file this is."""
    first, last = table.lines
    lines = f" (lines {first} to {last})" if first else ""
    name = f", {shown(table.name)}" if table.name else ""
    return f"scan {table.number} of {table.among} in the file{name}{lines}"


def _is_called(wanted: str, name: str, columns: Columns) -> bool:
    """Whether a scan has this name: all of it, what follows its ``key:``, or its column."""
    told = name.casefold()
    values = {part.strip(' "') for mark in ":=" for part in told.split(mark, 1)[1:]}
    return wanted.casefold() in {told, columns.height_name.casefold(), *values}


def _listing(tables: Sequence[Table]) -> str:
    if len(tables) == 1:
        return "one scan"
    told = []
    for number, one in enumerate(tables[:_MOST_LISTED], 1):
        name = f" {shown(one.name)}" if one.name else ""
        line = f", from line {one.lines[0]}" if one.lines[0] else ""
        length = readable(float(np.ptp(one.x)), "length") if len(one.x) else "nothing"
        told.append(f"{number}{name} ({counted(len(one.x), 'point')}, {length}{line})")
    if len(tables) > _MOST_LISTED:
        told.append(f"and {len(tables) - _MOST_LISTED} more")
    return f"{len(tables)} scans: {'; '.join(told)}"
