"""Measure the wafers of a lot, one after another or on any executor."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from filmstress.errors import (
    FilmstressError,
    InternalError,
    MeasurementRefused,
    RefusedInput,
    SubstrateError,
)
from filmstress.lots.decision import conformance, decide_lot
from filmstress.lots.limits import lot_limits
from filmstress.lots.matching import find_swaps, with_swaps
from filmstress.lots.risk import lot_risk
from filmstress.lots.running import in_order
from filmstress.lots.same_files import refused_where_same, same_files
from filmstress.lots.sample import sample_statement
from filmstress.lots.slim import Points, Shared, with_points
from filmstress.lots.statistics import lot_statistics
from filmstress.lots.straightness import stage_of
from filmstress.lots.workers import processors
from filmstress.measure.wafer import measure_wafer
from filmstress.records.lot import LotResult, LotSpec, WaferOutcome
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.wafer import WaferSpec
from filmstress.scans.stage import StageDatum
from filmstress.stats.monte_carlo import SEED

Found = TypeVar("Found")
# What is being done, how many wafers are done, and of how many.
Progress = Callable[[str, int, int], None]

# A conformance probability between these is close to a limit; copies for the proof then.
CLOSE = (0.01, 0.99)
COPIES = 100


@dataclass(frozen=True, slots=True)
class Procedure:
    """By what a lot is measured; a record keeps it.

    Attributes
    ----------
    noise : str
        Setting of the noise model: "sharp", "balanced" or "safe".
    monte_carlo, seed
        As in `filmstress.measure.wafer.measure_wafer`, for every wafer.
    """

    noise: str
    monte_carlo: bool = False
    seed: int = SEED


def measure_lot(
    lot: LotSpec,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    procedure: Procedure | None = None,
    points: Points = "none",
    on_progress: Progress | None = None,
) -> LotResult:
    """Measure every wafer of a lot and decide on it.

    Parameters
    ----------
    lot : LotSpec
    executor : concurrent.futures.Executor, optional
        Where to measure: threads, processes, a cluster; by default here, one after another.  The
        result is the same to the last bit.  Scans are read where they are measured, so a cluster's
        machines must see the files under the paths of ``lot``: read it by its absolute path.
    workers : int, optional
        How many wafers the executor measures at once; by default the processors of this machine.
        A few tasks for each are under way at a time.
    procedure : Procedure, optional
        By default with the noise model's `usual_noise`.
    points : "none", "few" or "all"
        What the results keep of the points of every scan: a few hundred, as much as can be seen in
        a drawing, or all.  Without them a wafer's result takes some twenty kilobytes, with a few
        some sixty, however long its scans.
    on_progress : callable, optional
        Called in this thread with what is being done, the number of wafers done, and of how many.

    Returns
    -------
    LotResult
        A wafer whose files cannot be used, or whose worker process died with it twice, is among
        the outcomes with its refusal; the others go on.

    Raises
    ------
    RefusedInput
        The stage's straightness is to be found from the lot, and its scans do not give it.
    InternalError
        Something in filmstress itself fails; the message names the wafer.
    """
    procedure = procedure or Procedure(usual_noise(lot))
    pool = _Pool(executor, workers or processors(), on_progress)
    measure = partial(
        _outcome,
        procedure=procedure,
        points=points,
        stage=stage_of(lot.wafers, partial(pool.run, "finding the stage's straightness", _none)),
    )
    shared = Shared()

    def measured(what: str, function: Measure, wafers: Sequence[WaferSpec]) -> list[WaferOutcome]:
        found = pool.run(what, _lost, function, wafers)
        return [
            shared.outcome(outcome, wafer) for outcome, wafer in zip(found, wafers, strict=True)
        ]

    found = measured("measuring", measure, lot.wafers)
    same = same_files(lot.wafers, digests=_digests(found))
    swaps = find_swaps(lot.wafers, found, partial(pool.run, "looking for exchanged scans", _none))

    def checked(found: Sequence[WaferOutcome]) -> tuple[WaferOutcome, ...]:
        return refused_where_same(with_swaps(found, swaps), same)

    outcomes = checked(found)
    judged = tuple(conformance(outcome, lot.specification) for outcome in outcomes)
    # Where the decision is close, the interval that it rests on proves itself first.
    close = [number for number, outcome in enumerate(judged) if _is_close(outcome)]
    if close:
        proving = partial(measure, copies=COPIES)
        proven = measured(
            "proving close intervals", proving, [lot.wafers[number] for number in close]
        )
        again = dict(zip(close, proven, strict=True))
        outcomes = checked([again.get(number, one) for number, one in enumerate(found)])
        judged = tuple(conformance(outcome, lot.specification) for outcome in outcomes)
    limits = lot_limits(judged, lot.specification)
    statistics = lot_statistics(judged, lot.specification)
    sample = sample_statement(statistics, lot.specification)
    decision, reason, advice = decide_lot(judged, limits, lot, sample)
    risk = lot_risk(judged, lot.specification, decision)
    return LotResult(lot, judged, statistics, limits, decision, reason, advice, sample, risk)


Measure = Callable[[WaferSpec], WaferOutcome]


@dataclass(frozen=True, slots=True)
class _Pool:
    """Where wafers are worked on, and who is told how far it is."""

    executor: Executor | None
    workers: int
    on_progress: Progress | None

    def run(
        self,
        what: str,
        lost: Callable[[WaferSpec], Found],
        function: Callable[[WaferSpec], Found],
        wafers: Sequence[WaferSpec],
    ) -> Iterator[Found]:
        found = in_order(function, wafers, executor=self.executor, workers=self.workers, lost=lost)
        tell = self.on_progress or _to_nobody
        tell(what, 0, len(wafers))
        for done, one in enumerate(found, 1):
            tell(what, done, len(wafers))
            yield one


def _to_nobody(what: str, done: int, total: int) -> None:
    """Nobody asked."""


def _none(wafer: WaferSpec) -> None:
    """What is known of the stage from a wafer that cannot be read."""


def _lost(wafer: WaferSpec) -> WaferOutcome:
    return WaferOutcome(
        wafer,
        None,
        Notice(
            RefusalCode.NOT_MEASURED,
            "the process that measured it was ended from outside, twice: is there too little "
            "memory for its scans?",
        ),
    )


def _digests(outcomes: Sequence[WaferOutcome]) -> dict[str, str]:
    """SHA-256 of the files that were read, by their paths."""
    results = [outcome.result for outcome in outcomes if outcome.result is not None]
    return {source.path: source.sha256 for result in results for _, source in result.files}


def usual_noise(lot: LotSpec) -> str:
    """Setting of the noise model where none is stated: safe where there is a decision to take."""
    return "balanced" if lot.specification is None else "safe"


def _is_close(outcome: WaferOutcome) -> bool:
    p = outcome.conformance_probability
    return p is not None and CLOSE[0] < p < CLOSE[1] and outcome.result is not None


def _outcome(
    wafer: WaferSpec,
    *,
    procedure: Procedure,
    points: Points,
    stage: StageDatum | None,
    copies: int = 0,
) -> WaferOutcome:
    try:
        result = measure_wafer(
            wafer,
            setting=procedure.noise,
            stage=stage,
            copies=copies,
            monte_carlo=procedure.monte_carlo,
            seed=procedure.seed,
        )
    except MeasurementRefused as error:
        return WaferOutcome(wafer, None, Notice(RefusalCode(error.code), str(error)))
    except SubstrateError as error:
        return WaferOutcome(wafer, None, Notice(RefusalCode.SUBSTRATE_UNKNOWN, str(error)))
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
    return WaferOutcome(wafer, with_points(result, points), result.refusal)
