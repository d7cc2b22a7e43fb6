"""[deposition]: free words, and process parameters with units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date, time

from filmstress.errors import FilmstressError, LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.readers import shown
from filmstress.records.lot import Parameter
from filmstress.records.quantity import Measured
from filmstress.units.grammar import parse
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity
from filmstress.units.words import dimension_of


def read_deposition(values: object, where: str, faults: FaultList) -> tuple[Parameter, ...]:
    """Everything that [deposition] says, in its order.

    A text that is a number with a known unit ("0.6 Pa", "120 W ± 2 W") becomes a quantity beside
    its text; a bare number in a text ("0412") may be a name and stays a text.  Nothing here can be
    wrong, for nothing is computed from it: what is not a quantity is kept as written.

    Parameters
    ----------
    values : object
        The table as parsed.
    where : str
        The lot file, for messages.
    faults : FaultList
        Receives a fault if it is no table.
    """
    if not isinstance(values, Mapping):
        faults.add(
            LotError(
                f"{shown(values)} came, a table is wanted",
                where=f"{where}, deposition",
                hint='write [deposition] on its own line, and below it  pressure = "0.6 Pa"',
            )
        )
        return ()
    return tuple(
        Parameter(name, _text(value), _quantity(name, value)) for name, value in _flat(values)
    )


def _flat(values: Mapping[str, object], prefix: str = "") -> Iterator[tuple[str, object]]:
    for key, value in values.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", value


def _text(value: object) -> str:
    match value:
        case bool():
            return "true" if value else "false"
        case date() | time():
            return value.isoformat()
        case list() | tuple():
            return "[" + ", ".join(_text(one) for one in value) + "]"
        case str() | float():
            return str(value)
        case int() if abs(value) < 10**300:
            return str(value)
        case _:
            return shown(value)


def _quantity(name: str, value: object) -> Measured | None:
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return None
    try:
        if not isinstance(value, str):
            return read_quantity(value, _kind(name, ""))
        written = parse(value)
        unit = written.unit or written.spread_unit
        return read_quantity(value, _kind(name, unit)) if unit else None
    except FilmstressError:
        return None


def _kind(name: str, unit: str) -> Kind:
    return Kind(name, dimension_of(unit) or "number", -math.inf, math.inf, "0.6 Pa")
