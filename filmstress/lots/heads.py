"""The heads of a wafer table: which setting each column states, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache

from filmstress.errors import LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import Key, arguments
from filmstress.inputs.names import meant, nearest
from filmstress.inputs.readers import Quantity, QuantityOrWord, QuantityRange
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.words import is_unit_word, resolve

_PLAIN = ("wafer", "pre", "post")
MUST = ("wafer", "post")
_HEAD = re.compile(r"(?P<name>[^\[\]]*)(?:\[(?P<unit>[^\[\]]*)\])?")
_PURE = ("1", "-")


@dataclass(frozen=True, slots=True)
class Head:
    """One column.

    Attributes
    ----------
    name : str
        As written, without the unit.
    unit : str
        Unit of its bare numbers; "" where none is named.
    key, state
        The setting it states, and of which state; the key is None for wafer, pre and post.
    of_spread : bool
        Whether it holds the standard uncertainties of the column beside it.
    spread_name, spread_unit : str
        Name and unit of the column of its standard uncertainties; "" where there is none.
    """

    name: str
    unit: str = ""
    key: Key | None = None
    state: str = ""
    of_spread: bool = False
    spread_name: str = ""
    spread_unit: str = ""

    @property
    def is_numeric(self) -> bool:
        """Whether its cells are quantities."""
        return self.key is not None and isinstance(
            self.key.reader, Quantity | QuantityOrWord | QuantityRange
        )


UNKNOWN = Head("")


def read_heads(cells: list[str], where: str, faults: FaultList) -> list[Head | None]:
    """The heads of a table's columns; None for a column without one, `UNKNOWN` for a faulty one.

    Parameters
    ----------
    cells : list of str
        The first line.
    where : str
        Its place, for messages.
    faults : FaultList
        Receives a fault for each column that is not known, stands twice, or has a wrong unit, and
        for columns that are missing.
    """
    heads: list[Head | None] = []
    for column, cell in enumerate(cells, start=1):
        place = f"{where}, column {column}"
        head = faults.attempt(lambda: _head(cell, place), UNKNOWN) if cell else None  # noqa: B023
        if head and head.name and any(other and _same(other, head) for other in heads):
            faults.add(
                LotError(
                    f"a second column states '{head.name}'", where=place, hint="keep one of them"
                )
            )
            head = UNKNOWN
        heads.append(head)
    names = {head.name for head in heads if head}
    for name in MUST:
        if name not in names and not any(
            name in meant(cell, _PLAIN) for cell in cells if cell not in _known()
        ):
            faults.add(
                LotError(
                    f"no column '{name}'",
                    where=where,
                    hint="the first line names the columns: wafer, azimuth [deg], pre, post, ...",
                )
            )
    return [_with_spread(head, heads, where, faults) for head in heads]


def _same(one: Head, other: Head) -> bool:
    if one.key is None or other.key is None:
        return one.name == other.name
    return (one.key, one.state, one.of_spread) == (other.key, other.state, other.of_spread)


def _head(cell: str, where: str) -> Head:
    match = _HEAD.fullmatch(cell)
    if match is None:
        raise LotError(
            f"'{cell}' is not a column head", where=where, hint="write it like  film_thickness [nm]"
        )
    name, unit = match["name"].strip(), (match["unit"] or "").strip()
    known = _known()
    of_spread = name not in known and name.endswith("_u") and name.removesuffix("_u") in known
    stem = name.removesuffix("_u") if of_spread else name
    if stem not in known:
        raise LotError(f"unknown column '{name}'", where=where, hint=nearest(name, list(known)))
    key, state = known[stem]
    reader = None if key is None else key.reader
    if of_spread and not isinstance(reader, Quantity | QuantityOrWord):
        raise LotError(
            f"'{stem}' has no uncertainty", where=where, hint=f"leave the column '{name}' out"
        )
    head = Head(name, "", key, state, of_spread)
    if not unit:
        return head
    if not isinstance(reader, Quantity | QuantityOrWord | QuantityRange):
        raise LotError(f"'{name}' has no unit", where=where, hint=f"write the head as  {name}")
    dimension = reader.kind.dimension
    if of_spread and is_unit_word(unit, "relative"):
        dimension = "relative"
    if unit in _PURE and DIMENSIONS[dimension].is_pure:
        return head
    return replace(head, unit=resolve(unit, dimension, where=where))


def _with_spread(
    head: Head | None, heads: list[Head | None], where: str, faults: FaultList
) -> Head | None:
    """The head with the column of its uncertainties; they are in its own unit if none is named."""
    if head is None or head.key is None:
        return head
    mate = replace(head, of_spread=not head.of_spread)
    beside = next((one for one in heads if one and _same(one, mate)), None)
    if head.of_spread and beside is None:
        stem = head.name.removesuffix("_u")
        faults.add(
            LotError(
                f"the column '{head.name}' stands without its values",
                where=where,
                hint=f"add the column '{stem}'",
            )
        )
    if beside is None:
        return head
    return replace(head, spread_name=beside.name, spread_unit=beside.unit or head.unit)


@cache
def _known() -> Mapping[str, tuple[Key | None, str]]:
    """Column name -> key and state: names of options, and ``table_key`` or ``table.key``."""
    known: dict[str, tuple[Key | None, str]] = dict.fromkeys(_PLAIN, (None, ""))
    for name, key, state in arguments():
        known[name] = (key, state)
        if not state and key.table in ("substrate", "film"):
            known[f"{key.table}_{key.name}"] = known[key.full_name] = (key, "")
    return known
