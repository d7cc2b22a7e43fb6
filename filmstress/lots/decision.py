"""The lot rule, by the probability of conformance of every wafer and of every limit on the lot.

A lot is accepted if every wafer, and every stated limit on the lot, conforms with probability
>= confidence; rejected if any conforms with probability <= 1 - confidence; otherwise undecided
(decisions by the probability of conformance: JCGM 106:2012, 7 and 8).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from filmstress.lots.advice import would_decide
from filmstress.lots.matching import mismatched
from filmstress.lots.terms import products
from filmstress.records.lot import (
    LotLimit,
    LotSpec,
    SampleStatement,
    Specification,
    WaferOutcome,
    WouldDecide,
)
from filmstress.records.notice import WarningCode
from filmstress.stats.conformance import Decision, conformance_probability, decide
from filmstress.stats.monte_carlo import probability_between
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.say import readable, say

Judged = tuple[str, float]

_SPOKEN = {
    "spread_max": "the difference from wafer to wafer",
    "within_max": "the difference within a wafer",
}


def conformance(outcome: WaferOutcome, specification: Specification | None) -> WaferOutcome:
    """The outcome with the probability that the wafer's stress lies within the limits."""
    stress = outcome.stress
    if specification is None or stress is None or stress.u is None or outcome.is_witness:
        return outcome
    if specification.lower is None and specification.upper is None:
        return outcome
    lower, upper = specification.lower, specification.upper
    found = None if outcome.result is None else outcome.result.monte_carlo
    drawn = None if found is None else found.instead("stress")
    if drawn is None:
        probability = conformance_probability(
            stress.value, u=stress.u, dof=stress.dof, lower=lower, upper=upper
        )
    else:
        # The decision goes by the distribution whose interval is stated.
        probability = probability_between(drawn, lower=lower, upper=upper)
    return replace(outcome, conformance_probability=probability)


def decide_lot(
    outcomes: Sequence[WaferOutcome],
    limits: Sequence[LotLimit],
    lot: LotSpec,
    sample: SampleStatement | None = None,
) -> tuple[str | None, str, tuple[WouldDecide, ...]]:
    """Decide on a lot.

    Parameters
    ----------
    outcomes : sequence of WaferOutcome
        With their probabilities of conformance.
    limits : sequence of LotLimit
        The limits on the lot, judged.
    lot : LotSpec
    sample : SampleStatement, optional
        What the wafers say of those that were not measured; it can block acceptance, and never
        rejects.

    Returns
    -------
    decision : str or None
        "accepted", "rejected", "undecided"; None without a specification.
    reason : str
        In words.
    advice : tuple of WouldDecide
        For each wafer that is too close to a limit to tell.
    """
    specification = lot.specification
    if specification is None:
        return None, "no specification is stated", ()
    confidence = specification.confidence
    judged = [*_wafers(outcomes), *_limits(limits)]
    verdicts = [(one, decide(one[1], confidence)) for one in judged]
    failed = [one for one, verdict in verdicts if verdict is Decision.REJECTED]
    unclear = [one for one, verdict in verdicts if verdict is Decision.UNDECIDED]
    blocks = [*_blocks(outcomes, limits), *_of_sample(sample, specification)]
    if failed:
        reason = f"outside the limits: {_listed(failed)}"
        return Decision.REJECTED.value, "; ".join([reason, *blocks]), ()
    if not unclear and not blocks and judged:
        least = min(probability for _, probability in judged)
        return (
            Decision.ACCEPTED.value,
            f"every wafer and limit conforms with probability {_percent(least)} or more "
            f"(asked: {confidence * 100:g} %)",
            (),
        )
    advice = _advice(outcomes, specification)
    if unclear:
        blocks.insert(0, f"too close to a limit to tell: {_listed(unclear)}")
    blocks += [_said(one) for one in advice]
    return Decision.UNDECIDED.value, "; ".join(blocks) or "nothing could be judged", advice


def _wafers(outcomes: Sequence[WaferOutcome]) -> list[Judged]:
    return [
        (f"wafer {outcome.id}", outcome.conformance_probability)
        for outcome in outcomes
        if outcome.conformance_probability is not None
    ]


def _limits(limits: Sequence[LotLimit]) -> list[Judged]:
    return [
        (_SPOKEN[limit.name], limit.conformance_probability)
        for limit in limits
        if limit.conformance_probability is not None
    ]


def _blocks(outcomes: Sequence[WaferOutcome], limits: Sequence[LotLimit]) -> list[str]:
    """What stands in the way of acceptance though nothing is outside the limits."""
    refused = [outcome.id for outcome in outcomes if outcome.refusal is not None]
    rest = [outcome for outcome in products(outcomes) if outcome.refusal is None]
    nameless = [outcome.id for outcome in rest if outcome.stress is None]
    unknown = [outcome.id for outcome in rest if outcome.stress and outcome.stress.u is None]
    moved = [outcome.id for outcome in outcomes if outcome.is_witness and _moved(outcome)]
    blocks = []
    if refused:
        blocks.append(f"{_names(refused)} refused, which blocks acceptance")
    if nameless:
        blocks.append(f"no stress of {_names(nameless)}: the film's thickness is not stated")
    if unknown:
        blocks.append(f"the uncertainty of {_names(unknown)} is not known")
    if moved:
        blocks.append(
            f"the interval of witness {_names(moved)} does not hold zero, though no film came on "
            "it: something else changed between the scans"
        )
    swapped = [outcome.id for outcome in outcomes if _swapped(outcome)]
    if swapped:
        blocks.append(
            f"the scans of {_names(swapped)} seem to be exchanged with others: find out which scan "
            "is whose"
        )
    strange = [outcome.id for outcome in rest if mismatched(outcome) and outcome.id not in swapped]
    if strange:
        blocks.append(f"the scans of {_names(strange)} may not be of the same wafer or line")
    return blocks + [
        f"{_SPOKEN[limit.name]} cannot be judged ({limit.gap})" for limit in limits if limit.gap
    ]


def _of_sample(sample: SampleStatement | None, specification: Specification) -> Iterator[str]:
    """What the sample does not show."""
    asked = specification.sampling
    if sample is None or asked is None:
        return
    if sample.gap:
        yield f"the wafers measured say nothing of the lot: {sample.gap}"
    elif sample.reached is not None and sample.reached < asked.confidence:
        more = (
            "no number of wafers like these would show it"
            if sample.enough is None
            else f"{sample.enough} wafers like these would show it"
        )
        yield (
            f"the {sample.measured} wafers measured show only with confidence "
            f"{_percent(sample.reached)} that {asked.content * 100:g} % of the lot lie within the "
            f"limits (asked: {asked.confidence * 100:g} %); {more}"
        )


def _swapped(outcome: WaferOutcome) -> bool:
    found = () if outcome.result is None else outcome.result.warnings
    return any(notice.code is WarningCode.SWAP_SUSPECTED for notice in found)


def _moved(witness: WaferOutcome) -> bool:
    result = witness.result
    told = None if result is None else result.stress or result.force_per_width
    return told is not None and not told.holds_zero


def _advice(
    outcomes: Sequence[WaferOutcome], specification: Specification
) -> tuple[WouldDecide, ...]:
    unclear = [
        outcome
        for outcome in outcomes
        if outcome.conformance_probability is not None
        and decide(outcome.conformance_probability, specification.confidence) is Decision.UNDECIDED
    ]
    found = (would_decide(outcome, specification) for outcome in unclear)
    return tuple(one for one in found if one is not None)


def _said(advice: WouldDecide) -> str:
    if not advice.input:
        return (
            f"wafer {advice.wafer} would be decided by a stress known to "
            f"{say(advice.stress_u, 'MPa', 2)} (standard uncertainty), which no single "
            "input can bring"
        )
    now, needed = (_size(value, advice.unit) for value in (advice.u, advice.needed_u))
    return (
        f"wafer {advice.wafer} would be decided by its {advice.input} known to {needed} in place "
        f"of {now} (standard uncertainty)"
    )


def _size(value: float, unit: str) -> str:
    for dimension, row in DIMENSIONS.items():
        if row.si == unit and row.ladder:
            return readable(value, dimension, 2)
    return f"{value:.2g} {unit}"


def _names(ids: Sequence[str]) -> str:
    return ("wafer " if len(ids) == 1 else "wafers ") + ", ".join(ids)


def _percent(p: float) -> str:
    """Never rounded to certainty, on either side."""
    if p < 0.001:
        return "below 0.1 %"
    return f"{min(math.floor(p * 1000.0 + 1e-9) / 10.0, 99.9):g} %"


def _listed(entries: Sequence[Judged]) -> str:
    return ", ".join(f"{name} (conforms with probability {_percent(p)})" for name, p in entries)
