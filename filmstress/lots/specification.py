"""[specification]: the limits on a lot."""

from __future__ import annotations

from collections.abc import Mapping

from filmstress.errors import LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.names import nearest
from filmstress.inputs.readers import Quantity, read_value, shown
from filmstress.records.lot import Sampling, Specification
from filmstress.records.quantity import Measured
from filmstress.units.kinds import Kind

_LOWER = Quantity(Kind("stress limit", "stress", -20e9, 20e9, "-250 MPa"))
_UPPER = Quantity(Kind("stress limit", "stress", -20e9, 20e9, "-150 MPa"))
_SPREAD = Quantity(Kind("limit on a difference", "stress", 1.0, 20e9, "20 MPa"))
_CONFIDENCE = Quantity(Kind("confidence", "number", 0.501, 0.99999, "0.95"))


def _share(name: str, low: float, high: float, example: str) -> Quantity:
    return Quantity(Kind(name, "relative", low, high, example))


# Key -> how it is read, and one line for people.
LIMITS: Mapping[str, tuple[Quantity, str]] = {
    "lower": (_LOWER, "Least stress of a wafer; one limit may stand alone."),
    "upper": (_UPPER, "Largest stress of a wafer; of negative limits the one nearer to zero."),
    "spread_max": (_SPREAD, "Largest difference between any two wafers."),
    "within_max": (_SPREAD, "Largest difference between any two azimuths of a wafer."),
    "confidence": (_CONFIDENCE, "Probability of conformance that accepts; 0.95 where not stated."),
}
SAMPLING: Mapping[str, tuple[Quantity, str]] = {
    "lot_size": (
        Quantity(Kind("lot size", "number", 2.0, 1e6, "25")),
        "Wafers in the lot, measured or not.",
    ),
    "content": (
        _share("content", 0.5, 0.9999, "95 %"),
        "Share of the lot's wafers that must lie within the limits.",
    ),
    "confidence": (_CONFIDENCE, "Confidence with which that must be shown; 0.95 if not stated."),
    "aql": (
        _share("aql", 1e-4, 0.4, "1 %"),
        "Share outside the limits with which a lot should still be accepted.",
    ),
    "producer_risk": (
        _share("producer's risk", 1e-3, 0.5, "5 %"),
        "How often such a lot may fail to be; 5 % if not stated.",
    ),
}
SAMPLING_EXAMPLE = 'sampling = { lot_size = 25, content = "95 %", confidence = 0.95 }'


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
    found = _read(values, LIMITS, where, faults, also=("sampling",))
    sampling = None
    if "sampling" in values:
        sampling = _sampling(values["sampling"], f"{where}.sampling", faults)
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
    stated = values.keys() & LIMITS.keys()
    if not (stated - {"confidence"} or values.keys() - LIMITS.keys() - {"sampling"}):
        faults.add(LotError("no limit is stated", where=where, hint='write  upper = "-150 MPa"'))
    elif "sampling" in values and not stated & {"lower", "upper"}:
        faults.add(
            LotError(
                "a sample is held against limits on the stress, and none is stated",
                where=f"{where}.sampling",
                hint="state lower or upper too, or leave sampling out",
            )
        )
    return Specification(**found, sampling=sampling)


def _read(
    values: Mapping[str, object],
    keys: Mapping[str, tuple[Quantity, str]],
    where: str,
    faults: FaultList,
    also: tuple[str, ...] = (),
) -> dict[str, float]:
    """The numbers of a table by key; a key that is not known becomes a fault."""
    found: dict[str, float] = {}
    for key, raw in values.items():
        if key in keys:
            reader = keys[key][0]
            value = faults.attempt(lambda: _limit(raw, reader, f"{where}.{key}"), None)  # noqa: B023
            if value is not None:
                found[key] = value
        elif key not in also:
            table = where.rpartition(", ")[2]
            faults.add(
                LotError(
                    f"unknown key '{key}' in [{table}]",
                    where=where,
                    hint=nearest(key, [*keys, *also]),
                )
            )
    return found


def _sampling(values: object, where: str, faults: FaultList) -> Sampling | None:
    if not isinstance(values, Mapping):
        faults.add(
            LotError(f"{shown(values)} came, a table is wanted", where=where, hint=_HOW_SAMPLED)
        )
        return None
    found = _read(values, SAMPLING, where, faults)
    size = found.pop("lot_size", None)
    if size is not None and size != int(size):
        faults.add(
            LotError(
                f"{size:g} wafers came, a whole number is wanted",
                where=f"{where}.lot_size",
                hint="write it like  lot_size = 25",
            )
        )
    if "content" not in values:
        faults.add(LotError("the content is not stated", where=where, hint=_HOW_SAMPLED))
    if "content" not in found:
        return None
    if found.get("aql", 0.0) >= round(1.0 - found["content"], 9):
        faults.add(
            LotError(
                f"aql: {values['aql']} of the wafers may lie outside the limits, but content: "
                f"{values['content']} must lie within them",
                where=where,
                hint="the aql is what good lots have: write it smaller than the rest of content",
            )
        )
    return Sampling(**found, lot_size=None if size is None else int(size))


_HOW_SAMPLED = f"write  {SAMPLING_EXAMPLE}"


def _limit(raw: object, reader: Quantity, where: str) -> float | None:
    value = read_value(raw, reader, where=where)
    if not isinstance(value, Measured):
        return None
    if value.u:
        raise LotError(
            f"the limit '{raw}' has an uncertainty; a limit is what the wafers are held against",
            where=where,
            hint="write the limit alone: the uncertainty of each wafer is taken into account",
        )
    return value.value
