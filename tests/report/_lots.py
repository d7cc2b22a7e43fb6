"""Lots made by hand, for testing what is said and drawn of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

from filmstress.records.lot import (
    LotResult,
    LotSpec,
    LotStatistics,
    Parameter,
    Specification,
    WaferOutcome,
)
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.result import StressResult
from filmstress.stats.coverage import estimate
from tests.report._results import make_result

LIMITS = Specification(lower=60e6, upper=140e6)


def measured(
    result: StressResult | None = None, *, conforms: float | None = 0.9999, **changes: Any
) -> WaferOutcome:
    """A measured wafer; without a result, that of a good pair of scans."""
    result = make_result(**changes) if result is None else result
    return WaferOutcome(result.wafer, result, result.refusal, conforms)


def refused(wafer_id: str = "wafer 99", message: str = "no such file") -> WaferOutcome:
    """A wafer whose files could not be read."""
    wafer = make_result(wafer_id=wafer_id).wafer
    return WaferOutcome(wafer, None, Notice(RefusalCode.UNREADABLE, message))


def named(outcome: WaferOutcome, name: str, **changes: Any) -> WaferOutcome:
    """The same wafer under another name, and with other fields."""
    wafer = dataclasses.replace(outcome.wafer, id=name)
    result = outcome.result and dataclasses.replace(outcome.result, wafer=wafer)
    return dataclasses.replace(outcome, wafer=wafer, result=result, **changes)


def make_lot(
    *wafers: WaferOutcome,
    decision: str | None = "accepted",
    reason: str = "every wafer conforms",
    lot: str = "K7",
    recipe: str = "nitride",
    specification: Specification | None = LIMITS,
    deposition: Sequence[tuple[str, str]] = (("tool", "PX-2"), ("pressure", "0.6 Pa")),
    **changes: Any,
) -> LotResult:
    """A lot of these wafers; what is decided on it is said, not found."""
    there = [one.stress for one in wafers if one.stress is not None]
    mean = None
    if there:
        mean = estimate(sum(one.value for one in there) / len(there), "Pa", u=2e6)
    statistics = LotStatistics(
        measured=len(there),
        refused=len(wafers) - len(there),
        mean=mean,
        standard_deviation=3e6 if len(there) > 1 else None,
        lowest=min((one.value for one in there), default=None),
        highest=max((one.value for one in there), default=None),
    )
    spec = LotSpec(
        lot=lot,
        recipe=recipe,
        path="lot.toml",
        sha256="ab" * 32,
        wafers=tuple(one.wafer for one in wafers),
        specification=specification,
        deposition=tuple(Parameter(name, text) for name, text in deposition),
    )
    result = LotResult(spec, wafers, statistics, (), decision, reason)
    return dataclasses.replace(result, **changes)
