"""The lot rule: probability of conformance per wafer and for every limit on the lot.

A lot is accepted if every wafer, and every stated limit on the lot, conforms with probability
>= confidence; rejected if any conforms with probability <= 1 - confidence; otherwise undecided
(decisions by the probability of conformance: JCGM 106:2012, 7 and 8).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations

from filmstress.records.budget import Term
from filmstress.records.lot import LotLimit, LotSpec, LotStatistics, Specification, WaferOutcome
from filmstress.records.quantity import Estimate
from filmstress.stats.budget import combine, merge_shared, scale
from filmstress.stats.conformance import Decision, conformance_probability, decide
from filmstress.stats.coverage import estimate

WITNESS = "witness"


def conformance(outcome: WaferOutcome, specification: Specification | None) -> WaferOutcome:
    """The outcome with the probability that the wafer's stress lies within the limits."""
    stress = outcome.stress
    if specification is None or stress is None or stress.u is None or _is_witness(outcome):
        return outcome
    if specification.lower is None and specification.upper is None:
        return outcome
    probability = conformance_probability(
        stress.value,
        u=stress.u,
        dof=stress.dof,
        lower=specification.lower,
        upper=specification.upper,
    )
    return replace(outcome, conformance_probability=probability)


def lot_limits(
    outcomes: Sequence[WaferOutcome], specification: Specification | None
) -> tuple[LotLimit, ...]:
    """The limits on the lot as a whole, each with what was found and its probability."""
    if specification is None:
        return ()
    limits = []
    if specification.spread_max is not None:
        limits.append(_spread(outcomes, specification.spread_max))
    if specification.within_max is not None:
        limits.append(_within(outcomes, specification.within_max))
    return tuple(limits)


def _spread(outcomes: Sequence[WaferOutcome], limit: float) -> LotLimit:
    """Largest difference between two wafers; what both share cancels in it."""
    found, probability = 0.0, 1.0
    for one, other in combinations(_products(outcomes), 2):
        stresses = one.stress, other.stress
        if stresses[0] is None or stresses[1] is None:
            continue
        difference = stresses[0].value - stresses[1].value
        terms = merge_shared([*_terms(one), *scale(_terms(other), -1.0)])
        found, probability = _worse(found, probability, difference, terms, limit)
    return LotLimit("spread_max", limit, found, probability)


def _within(outcomes: Sequence[WaferOutcome], limit: float) -> LotLimit:
    """Largest difference between two azimuths of one wafer.

    Thickness, modulus and scales act on both alike; the curvature fits remain.
    """
    found, probability = 0.0, 1.0
    for outcome in _products(outcomes):
        result = outcome.result
        if result is None or result.stress is None:
            continue
        own = [term for term in _terms(outcome) if term.input.startswith("curvature fit")]
        count = max(len(result.stress_by_direction), 1)
        for one, other in combinations(result.stress_by_direction, 2):
            difference = one.stress.value - other.stress.value
            terms = scale(own, float(count))
            found, probability = _worse(found, probability, difference, terms, limit)
    return LotLimit("within_max", limit, found, probability)


def _worse(
    found: float, probability: float, difference: float, terms: Iterable[Term], limit: float
) -> tuple[float, float]:
    budget = combine(list(terms))
    conforms = conformance_probability(
        difference, u=budget.u, dof=budget.dof, lower=-limit, upper=limit
    )
    return max(found, abs(difference)), min(probability, conforms)


def decide_lot(
    outcomes: Sequence[WaferOutcome], limits: Sequence[LotLimit], lot: LotSpec
) -> tuple[str | None, str]:
    """The decision ("accepted", "rejected", "undecided" or None) and its reason in words."""
    specification = lot.specification
    products = _products(outcomes)
    refused = [outcome.id for outcome in products if outcome.stress is None]
    if specification is None:
        return None, "no specification is stated"
    confidence = specification.confidence
    judged = [
        (f"wafer {outcome.id}", outcome.conformance_probability)
        for outcome in products
        if outcome.conformance_probability is not None
    ]
    judged += [(limit.name, limit.conformance_probability) for limit in limits]
    verdicts = [(name, p, decide(p, confidence)) for name, p in judged]
    failed = [(name, p) for name, p, verdict in verdicts if verdict is Decision.REJECTED]
    if failed:
        return Decision.REJECTED.value, _listed(failed, "outside the limits")
    if refused:
        return Decision.UNDECIDED.value, (
            f"no stress could be stated for {_names(refused)}; a refused wafer blocks acceptance"
        )
    failing_witness = [o.id for o in outcomes if _is_witness(o) and _moved(o.stress)]
    if failing_witness:
        return Decision.UNDECIDED.value, (
            f"witness {_names(failing_witness)} carries no film, yet its interval does not hold "
            "zero: something moved between the scans"
        )
    open_ones = [(name, p) for name, p, verdict in verdicts if verdict is Decision.UNDECIDED]
    if open_ones or not verdicts:
        return Decision.UNDECIDED.value, _listed(open_ones, "too close to a limit to tell")
    least = min(p for _, p in judged)
    return Decision.ACCEPTED.value, (
        f"every wafer and limit conforms with probability {_percent(least)} or more "
        f"(asked: {_percent(confidence)})"
    )


def lot_statistics(outcomes: Sequence[WaferOutcome]) -> LotStatistics:
    """Mean, spread and extremes over the wafers that carry film."""
    products = _products(outcomes)
    stresses = [(o, o.stress) for o in products if o.stress is not None]
    n = len(stresses)
    if n == 0:
        return LotStatistics(0, len(products), None, None, None, None)
    values = [stress.value for _, stress in stresses]
    mean = math.fsum(values) / n
    terms = merge_shared([t for o, _ in stresses for t in scale(_terms(o), 1.0 / n)])
    budget = combine(list(terms))
    deviation = None
    if n > 1:
        deviation = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    return LotStatistics(
        measured=n,
        refused=len(products) - n,
        mean=estimate(mean, "Pa", u=budget.u, dof=budget.dof),
        standard_deviation=deviation,
        lowest=min(values),
        highest=max(values),
    )


def _terms(outcome: WaferOutcome) -> tuple[Term, ...]:
    """A wafer's budget terms; those of its own get its name, so that two wafers' stay apart."""
    if outcome.result is None:
        return ()
    return tuple(
        row.term if row.term.common_to else replace(row.term, common_to=f"wafer {outcome.id}")
        for row in outcome.result.budget.rows
    )


def _is_witness(outcome: WaferOutcome) -> bool:
    return outcome.result is not None and outcome.result.wafer.role == WITNESS


def _products(outcomes: Sequence[WaferOutcome]) -> list[WaferOutcome]:
    return [outcome for outcome in outcomes if not _is_witness(outcome)]


def _moved(stress: Estimate | None) -> bool:
    return stress is not None and not stress.holds_zero


def _names(ids: Sequence[str]) -> str:
    return ("wafer " if len(ids) == 1 else "wafers ") + ", ".join(ids)


def _percent(p: float) -> str:
    # Never rounded up to certainty.
    return f"{min(math.floor(p * 1000) / 10, 99.9):g} %"


def _listed(entries: Sequence[tuple[str, float]], what: str) -> str:
    told = ", ".join(f"{name} (conforms with probability {_percent(p)})" for name, p in entries)
    return f"{what}: {told}" if told else "nothing could be judged"
