"""[specification]: the limits on a lot."""

from __future__ import annotations

from collections.abc import Mapping

from filmstress.errors import FilmstressError, LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.names import nearest
from filmstress.inputs.readers import Quantity, read_value, shown
from filmstress.records.lot import Specification
from filmstress.records.quantity import Measured
from filmstress.units.kinds import Kind

_STRESS = Quantity(Kind("stress limit", "stress", -20e9, 20e9, "-150 MPa"))
_SPREAD = Quantity(Kind("limit on a difference", "stress", 1.0, 20e9, "20 MPa"))
_CONFIDENCE = Quantity(Kind("confidence", "number", 0.501, 0.99999, "0.95"))
_KEYS = {
    "lower": _STRESS,
    "upper": _STRESS,
    "spread_max": _SPREAD,
    "within_max": _SPREAD,
    "confidence": _CONFIDENCE,
}
_NOT_YET = "sampling"


def read_specification(values: object, where: str, faults: FaultList) -> Specification | None:
    """The limits as stated [Pa]; None where there is no usable table.

    Parameters
    ----------
    values : object
        The table as parsed.
    where : str
        The lot file, for messages.
    faults : FaultList
        Receives every fault.
    """
    where = f"{where}, specification"
    if not isinstance(values, Mapping):
        faults.add(
            LotError(
                f"{shown(values)} came, a table is wanted",
                where=where,
                hint='write [specification] on its own line, and below it  upper = "-150 MPa"',
            )
        )
        return None
    found: dict[str, float] = {}
    for key, raw in values.items():
        if key in _KEYS:
            value = faults.attempt(lambda: _limit(raw, key, f"{where}.{key}"), None)  # noqa: B023
            if value is not None:
                found[key] = value
        else:
            faults.add(_not_a_limit(key, where))
    lower, upper = found.get("lower"), found.get("upper")
    if lower is not None and upper is not None and lower >= upper:
        faults.add(
            LotError(
                f"the lower limit {values['lower']} is not below the upper one {values['upper']}",
                where=where,
                hint="of negative limits, -250 MPa is the lower and -150 MPa the upper",
            )
        )
        return None
    if not values.keys() & (_KEYS.keys() - {"confidence"}):
        faults.add(LotError("no limit is stated", where=where, hint='write  upper = "-150 MPa"'))
    return Specification(**found)


def _limit(raw: object, key: str, where: str) -> float | None:
    value = read_value(raw, _KEYS[key], where=where)
    if not isinstance(value, Measured):
        return None
    if value.u:
        raise LotError(
            f"the limit '{raw}' has an uncertainty; a limit is what the wafers are held against",
            where=where,
            hint="write the limit alone: the uncertainty of each wafer is taken into account",
        )
    return value.value


def _not_a_limit(key: str, where: str) -> FilmstressError:
    if key == _NOT_YET:
        return LotError(
            "a sampling plan is not available yet",
            where=f"{where}.{key}",
            hint="leave it out for now: every wafer of the file is judged",
        )
    return LotError(
        f"unknown key '{key}' in [specification]",
        where=where,
        hint=nearest(key, [*_KEYS, _NOT_YET]),
    )
