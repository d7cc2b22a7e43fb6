"""From the JSON of a lot's result to what the history keeps of it."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from filmstress.errors import HistoryError
from filmstress.history.terms import within_a_lot
from filmstress.records.budget import Term
from filmstress.records.history import KeptLot, KeptParameter, KeptWafer
from filmstress.records.quantity import Shape, Source

Json = Mapping[str, Any]

SCHEMA = "filmstress/lot/"


def kept_lot(document: Json, *, recorded_at: str, record_sha256: str = "") -> KeptLot:
    """What is kept of a lot.

    Parameters
    ----------
    document : mapping
        What ``filmstress lot --json`` prints, read from JSON.
    recorded_at : str
        UTC, "2026-03-14T09:30:00Z".
    record_sha256 : str
        Of the record that holds the document; by default of the document itself.

    Raises
    ------
    HistoryError
        If it is not such a document.
    """
    if not str(document.get("schema", "")).startswith(SCHEMA):
        raise HistoryError(
            f"this is no result of a lot (schema {document.get('schema')!r})",
            hint="give a record, or what filmstress lot --json printed",
        )
    try:
        text = json.dumps(
            document, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False
        )
        inputs = document["inputs"]
        limits = inputs.get("specification") or {}
        stated = inputs.get("deposition") or {}
        return KeptLot(
            record_sha256=record_sha256 or hashlib.sha256(text.encode()).hexdigest(),
            lot=str(document["lot"]),
            recipe=str(document["recipe"]),
            recorded_at=recorded_at,
            made_on=_date(stated.get("date")),
            tool=str(stated.get("tool") or ""),
            decision=document["decision"],
            reason=str(document["reason"]),
            lower=_value(limits.get("lower")),
            upper=_value(limits.get("upper")),
            parameters=tuple(_parameters(inputs)),
            wafers=tuple(_wafer(one, str(document["lot"])) for one in document["wafers"]),
            document=text,
        )
    except (KeyError, TypeError, AttributeError, ValueError, OverflowError) as error:
        raise HistoryError(
            f"the result of a lot lacks something or is misshapen ({error!r})",
            hint="give a record, or what filmstress lot --json printed, unchanged",
        ) from error


def _date(text: object) -> str:
    """A date that sorts: "2026-03-14", with the time where it is stated; else nothing."""
    try:
        told = datetime.fromisoformat(str(text))
    except ValueError:
        return ""
    return told.date().isoformat() if len(str(text)) <= 10 else told.isoformat(timespec="seconds")


def _value(quantity: Json | None, name: str = "value") -> float | None:
    value = None if quantity is None else quantity[name]
    return None if value is None else float(value)


def _parameters(inputs: Json) -> Iterator[KeptParameter]:
    quantities = inputs.get("deposition_quantities") or {}
    for name, text in (inputs.get("deposition") or {}).items():
        quantity = quantities.get(name)
        unit = "" if quantity is None else str(quantity["unit"])
        yield KeptParameter(str(name), str(text), _value(quantity), unit)


def _wafer(data: Json, lot: str) -> KeptWafer:
    stress, force = data["stress"], data["force_per_width"]
    freedom = None if stress is None else stress["degrees_of_freedom"]
    return KeptWafer(
        wafer=str(data["id"]),
        role=str(data["inputs"]["role"]),
        stress=_value(stress),
        stress_u=_value(stress, "standard_uncertainty"),
        stress_dof=math.inf if freedom is None else float(freedom),
        force=_value(force),
        force_u=_value(force, "standard_uncertainty"),
        film_thickness=_value(data["inputs"]["film"]["thickness"]),
        conformance=_value(data, "conformance_probability"),
        refusal="" if data["refusal"] is None else str(data["refusal"]["code"]),
        terms=tuple(_term(row, lot) for row in data["budget"] or ()),
    )


def _term(row: Json, lot: str) -> Term:
    freedom = row["degrees_of_freedom"]
    common_to = str(row["common_to"] or "")
    if within_a_lot(common_to) and common_to != f"lot {lot}":
        common_to = f"{common_to} of {lot}"
    return Term(
        input=str(row["input"]),
        value=float(row["value"]),
        unit=str(row["unit"]),
        u=float(row["standard_uncertainty"]),
        sensitivity=float(row["sensitivity"]),
        dof=math.inf if freedom is None else float(freedom),
        shape=Shape(row["distribution"]),
        evaluation=row["evaluation"],
        common_to=common_to,
        source=Source(row["uncertainty_source"]),
    )
