"""Which wafers of a lot are drawn: all of a small one, of a large one those to be looked at."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.lot import LotResult, Specification, WaferOutcome
from filmstress.report.notices import to_look_at
from filmstress.report.verdict import Verdict, verdict

# One full cassette is drawn whole; of more wafers, no more than so many of those not plainly fine.
ALL_UP_TO, MOST = 25, 40
_FINE = {Verdict.WITHIN, Verdict.NOT_JUDGED}


@dataclass(frozen=True, slots=True)
class Choice:
    """Places of the wafers that are drawn and of those that are folded, and what a reader is told.

    ``remark`` is empty where all are drawn and none is folded.
    """

    drawn: frozenset[int]
    folded: frozenset[int]
    remark: str


def plainly_fine(outcome: WaferOutcome, specification: Specification | None) -> bool:
    """Whether there is nothing to look at: no refusal, no doubt, no warning about the data."""
    if outcome.result is None or to_look_at(outcome.result.warnings):
        return False
    if outcome.is_witness:
        told = outcome.result.stress or outcome.result.force_per_width
        return told is not None and told.holds_zero and outcome.refusal is None
    return verdict(outcome, specification) in _FINE


def to_draw(result: LotResult) -> Choice:
    """The wafers that get figures, and those of which only the first line is seen and printed."""
    wafers, specification = result.wafers, result.lot.specification
    if len(wafers) <= ALL_UP_TO:
        return Choice(frozenset(range(len(wafers))), frozenset(), "")
    places = range(len(wafers))
    told = [place for place in places if not plainly_fine(wafers[place], specification)]
    chosen = sorted(told, key=lambda place: _rank(wafers[place]))[:MOST]
    stresses = [(s.value, place) for place in places if (s := wafers[place].stress) is not None]
    extremes = {pick(stresses)[1] for pick in (min, max)} if stresses else set()
    drawn = frozenset({*chosen, *extremes})
    remark = (
        f"Of these {len(wafers)} wafers only those with something to look at are drawn, and those "
        "with the lowest and the highest stress. "
    )
    if len(told) > len(chosen):
        remark += f"As they are {len(told)}, the {MOST} that conform least are drawn. "
    remark += "The other wafers are folded to a line, on paper too: open one to see its numbers."
    return Choice(drawn, frozenset(places) - drawn - frozenset(told), remark)


def _rank(outcome: WaferOutcome) -> float:
    """Refused first, then by how little they conform."""
    if outcome.refusal is not None:
        return -1.0
    probability = outcome.conformance_probability
    return 1.0 if probability is None else probability
