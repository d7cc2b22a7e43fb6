"""Measure the wafers of a lot, one after another or on any executor."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

from filmstress.errors import FilmstressError, InternalError, MeasurementRefused, RefusedInput
from filmstress.inputs.scan_parts import FROM_LOT
from filmstress.lots.decision import conformance, decide_lot
from filmstress.lots.limits import lot_limits
from filmstress.lots.matching import with_swaps
from filmstress.lots.slim import with_few_points
from filmstress.lots.statistics import lot_statistics
from filmstress.measure.wafer import measure_wafer
from filmstress.records.lot import LotResult, LotSpec, WaferOutcome
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.scan import Scan
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.stage import StageDatum, stage_from_scans

# A conformance probability between these is close to a limit; copies for the proof then.
CLOSE = (0.01, 0.99)
COPIES = 100


def measure_lot(
    lot: LotSpec,
    *,
    executor: Executor | None = None,
    setting: str | None = None,
    keep_points: bool = False,
) -> LotResult:
    """Measure every wafer of a lot and decide on it.

    Parameters
    ----------
    lot : LotSpec
    executor : concurrent.futures.Executor, optional
        Where to measure; by default here, one after another.  The result is the same.
    setting : str, optional
        Setting of the noise model; by default "safe" where there is a specification to decide
        against, and "balanced" where there is none.
    keep_points : bool
        Whether the results keep every point of every scan.  By default they keep a few hundred
        to be drawn, so that the memory taken does not grow with the length of the scans.

    Returns
    -------
    LotResult
        A wafer whose files cannot be used is among the outcomes with its refusal; the others go
        on.

    Raises
    ------
    RefusedInput
        The stage's straightness is to be found from the lot, and its scans do not give it.
    InternalError
        Something in filmstress itself fails; the message names the wafer.
    """
    if setting is None:
        setting = "balanced" if lot.specification is None else "safe"
    measure = partial(
        _outcome, setting=setting, keep_points=keep_points, stage=_stage_of(lot.wafers)
    )
    run = map if executor is None else executor.map
    outcomes = with_swaps(lot.wafers, tuple(run(measure, lot.wafers)))
    judged = tuple(conformance(outcome, lot.specification) for outcome in outcomes)
    # Where the decision is close, the interval that it rests on proves itself first.
    close = [number for number, outcome in enumerate(judged) if _is_close(outcome)]
    if close:
        proving = partial(measure, copies=COPIES)
        proven = run(proving, [lot.wafers[number] for number in close])
        again = dict(zip(close, proven, strict=True))
        outcomes = with_swaps(
            lot.wafers, tuple(again.get(n, outcome) for n, outcome in enumerate(outcomes))
        )
        judged = tuple(conformance(outcome, lot.specification) for outcome in outcomes)
    limits = lot_limits(judged, lot.specification)
    decision, reason, advice = decide_lot(judged, limits, lot)
    return LotResult(lot, judged, lot_statistics(judged), limits, decision, reason, advice)


def _is_close(outcome: WaferOutcome) -> bool:
    p = outcome.conformance_probability
    return p is not None and CLOSE[0] < p < CLOSE[1] and outcome.result is not None


def _outcome(
    wafer: WaferSpec,
    *,
    setting: str,
    keep_points: bool,
    stage: StageDatum | None,
    copies: int = 0,
) -> WaferOutcome:
    try:
        result = measure_wafer(wafer, setting=setting, stage=stage, copies=copies)
    except MeasurementRefused as error:
        return WaferOutcome(wafer, None, Notice(RefusalCode(error.code), str(error)))
    except RefusedInput as error:
        return WaferOutcome(wafer, None, Notice(RefusalCode.UNREADABLE, str(error)))
    except FilmstressError:
        raise
    except Exception as error:
        # Named here, for beyond this point nobody knows which wafer it was.
        raise InternalError(
            f"{type(error).__name__}: {error}",
            where=f"wafer {wafer.id}",
            hint="please report it with the lot file and, where you may, this wafer's scans",
        ) from error
    if not keep_points:
        result = with_few_points(result)
    return WaferOutcome(wafer, result, result.refusal)


def _stage_of(wafers: Iterable[WaferSpec]) -> StageDatum | None:
    """The stage's straightness, where scans want it to be found from the lot."""
    wanting = [specs for wafer in wafers if (specs := list(_on_stage(wafer)))]
    if not wanting:
        return None
    found = []
    for specs in wanting:
        try:
            found.append([_upright(spec) for spec in specs])
        except FilmstressError:
            # It is refused with its own wafer.
            continue
    return stage_from_scans(found)


def _on_stage(wafer: WaferSpec) -> Iterator[ScanSpec]:
    for line in wafer.lines:
        for state in line.states:
            if state.scan.datum == FROM_LOT and state.scan.path is not None:
                yield state.scan


def _upright(spec: ScanSpec) -> Scan:
    scan = read_scan(spec.path or "", spec.reading)
    return scan if spec.height_up else replace(scan, z=-scan.z)
