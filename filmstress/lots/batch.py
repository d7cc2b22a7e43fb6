"""Measure the wafers of a lot, one after another or on any executor."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Executor
from functools import partial

from filmstress.errors import MeasurementRefused, RefusedInput
from filmstress.lots.decision import conformance, decide_lot, lot_limits, lot_statistics
from filmstress.measure.wafer import measure_wafer
from filmstress.records.lot import LotResult, LotSpec, WaferOutcome
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.wafer import WaferSpec


def measure_lot(
    lot: LotSpec, *, executor: Executor | None = None, setting: str = "balanced"
) -> LotResult:
    """Measure every wafer of a lot and decide on it.

    Parameters
    ----------
    lot : LotSpec
    executor : concurrent.futures.Executor, optional
        Where to measure; by default here, one after another.
    setting : str
        Setting of the noise model.

    Returns
    -------
    LotResult
        A wafer whose files cannot be used is among the outcomes with its refusal; the others go
        on.
    """
    measure = partial(_outcome, setting=setting)
    run = map if executor is None else executor.map
    outcomes: Iterable[WaferOutcome] = run(measure, lot.wafers)
    judged = tuple(conformance(outcome, lot.specification) for outcome in outcomes)
    limits = lot_limits(judged, lot.specification)
    decision, reason = decide_lot(judged, limits, lot)
    return LotResult(lot, judged, lot_statistics(judged), limits, decision, reason)


def _outcome(wafer: WaferSpec, *, setting: str) -> WaferOutcome:
    try:
        result = measure_wafer(wafer, setting=setting)
    except MeasurementRefused as error:
        return WaferOutcome(wafer.id, None, Notice(RefusalCode(error.code), str(error)))
    except RefusedInput as error:
        return WaferOutcome(wafer.id, None, Notice(RefusalCode.UNREADABLE, str(error)))
    return WaferOutcome(wafer.id, result, result.refusal)
