"""Reads a study of a gauge: a table of repeated readings of several wafers."""

from __future__ import annotations

import csv
import io
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import QuantityError, RefusedInput
from filmstress.inputs.readers import shown
from filmstress.inputs.text_file import read_text_file
from filmstress.units.dimensions import Dimension
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity

_PARTS = ("wafer", "part")
_BETWEEN = ("operator", "appraiser", "loading", "load", "day", "run", "tool")
_IGNORED = ("trial", "repeat", "scan")
_HINT = (
    "columns: wafer; operator (or loading, day, run, tool) where there is one; trial if wanted; "
    "and one of readings with its unit, such as bow [um]"
)
_KINDS: tuple[tuple[Dimension, str], ...] = (("length", "m"), ("stress", "Pa"), ("number", ""))


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """Readings of a balanced study.

    Attributes
    ----------
    reading : str
        What was read: "bow".
    dimension : str
        "length", "stress" or "number".
    unit : str
        SI unit of the values; empty for numbers without one.
    between : str
        What changes between readings of a wafer beside chance: "operator"; empty for nothing.
    crossed : bool
        Whether each of these measured every wafer.
    values : ndarray
        (wafers, operators, repeats), or (wafers, repeats) [unit].
    """

    reading: str
    dimension: Dimension
    unit: str
    between: str
    crossed: bool
    values: NDArray[np.float64]

    def labels(self) -> tuple[list[int], list[int] | None]:
        """Which wafer, and which operator or the like, each of the values in order belongs to."""
        wafer, *between, _ = np.indices(self.values.shape).reshape(self.values.ndim, -1).tolist()
        return wafer, between[0] if between else None


def read_study(path: str) -> Study:
    """Read a table of readings; the first line names the columns.

    An operator (loading, day) that is named under several wafers is the same one for all: the
    study is crossed.  Loadings of one name under each wafer are different ones, and so are others
    that are named under one wafer only: the study is nested.

    Raises
    ------
    RefusedInput
        The file cannot be read, a column is missing, or the study is not balanced.
    """
    text = read_text_file(Path(path), what="study").text
    first = text.partition("\n")[0]
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count)))
    except csv.Error as error:
        raise RefusedInput(f"is no table: {error}", where=path, hint=_HINT) from None
    rows = [[cell.strip() for cell in cells] for cells in rows if any(map(str.strip, cells))]
    if len(rows) < 2:
        raise RefusedInput("has no readings", where=path, hint=_HINT)
    heads = [cell.partition("[")[0].rstrip().lower() for cell in rows[0]]
    part = _column(heads, _PARTS)
    between = _column(heads, _BETWEEN)
    rest = [i for i, head in enumerate(heads) if i not in (part, between) and head not in _IGNORED]
    if part is None or len(rest) != 1:
        raise RefusedInput(f"its columns are {shown(', '.join(heads))}", where=path, hint=_HINT)
    (value,) = rest
    if rows[0][value].count("[") != rows[0][value].endswith("]"):
        raise RefusedInput(f"{shown(rows[0][value])} is no head", where=path, hint=_HINT)
    word = rows[0][value].partition("[")[2].rpartition("]")[0].strip()
    dimension, unit = _kind(word, path)
    kind = Kind(heads[value], dimension, -1e12, 1e12, f"1 {word}".rstrip())
    cells: dict[tuple[str, str], list[float]] = defaultdict(list)
    for line, row in enumerate(rows[1:], start=2):
        where = f"{path}, row {line}"
        if len(row) <= max(part, value, between or 0):
            raise RefusedInput("is shorter than the first line", where=where, hint=_HINT)
        read = read_quantity(f"{row[value]} {word}".rstrip(), kind, where=where)
        cells[row[part], "" if between is None else row[between]].append(read.value)
    name = "" if between is None else heads[between]
    return _balanced(cells, heads[value], dimension, unit, name, path)


def _column(heads: list[str], names: tuple[str, ...]) -> int | None:
    found = [i for i, head in enumerate(heads) if head in names]
    return found[0] if found else None


def _kind(word: str, path: str) -> tuple[Dimension, str]:
    for dimension, unit in _KINDS:
        try:
            read_quantity(f"1 {word}".rstrip(), Kind("reading", dimension, -1e12, 1e12, "1"))
        except QuantityError:
            continue
        return dimension, unit
    raise RefusedInput(
        f"the readings' unit '{word}' is neither of length nor of stress", where=path, hint=_HINT
    )


def _balanced(
    cells: dict[tuple[str, str], list[float]],
    reading: str,
    dimension: Dimension,
    unit: str,
    between: str,
    path: str,
) -> Study:
    parts = list(dict.fromkeys(part for part, _ in cells))
    under = {part: [other for p, other in cells if p == part] for part in parts}
    names = list(dict.fromkeys(other for _, other in cells))
    sizes = {len(readings) for readings in cells.values()}
    counts = {len(others) for others in under.values()}
    if len(sizes) > 1 or len(counts) > 1:
        raise RefusedInput(
            "is not balanced: every wafer is to be read equally often, by equally many "
            f"{between or 'trial'}s",
            where=path,
            hint="add the missing readings, or leave out the wafer that lacks them",
        )
    least = min(len(parts), *sizes, *(counts if between else sizes))
    if least < 2:
        raise RefusedInput(
            f"holds {len(parts)} wafers, {min(counts)} {between or 'group'}s a wafer and "
            f"{min(sizes)} readings each: two or more of each are wanted",
            where=path,
            hint=_HINT,
        )
    alike = between not in ("loading", "load") and all(
        set(others) == set(names) for others in under.values()
    )
    order = {part: names if alike else under[part] for part in parts}
    values = np.array([[cells[part, other] for other in order[part]] for part in parts])
    if not between:
        values = values[:, 0, :]
    return Study(reading, dimension, unit, between, bool(between) and alike, values)
