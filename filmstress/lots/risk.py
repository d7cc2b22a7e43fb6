"""How likely the decision on a lot is wrong."""

from __future__ import annotations

from collections.abc import Sequence

from filmstress.lots.terms import products, stress_terms
from filmstress.records.lot import LotRisk, Specification, WaferOutcome
from filmstress.stats.conformance import Decision
from filmstress.stats.joint_conformance import joint_conformance


def lot_risk(
    outcomes: Sequence[WaferOutcome], specification: Specification | None, decision: str | None
) -> LotRisk | None:
    """The specific risk of a decision: what the wafers share errs in all of them at once.

    None without limits on the stress, or where a wafer has no stress to hold against them.
    """
    carriers = products(outcomes)
    if specification is None or not carriers:
        return None
    single = [outcome.conformance_probability for outcome in carriers]
    known = [p for p in single if p is not None]
    if len(known) < len(single):
        return None
    together = joint_conformance(
        [outcome.stress.value for outcome in carriers if outcome.stress is not None],
        [stress_terms(outcome) for outcome in carriers],
        lower=specification.lower,
        upper=specification.upper,
    )
    # Few degrees of freedom count in each wafer's own probability only.
    together = min(together, *known)
    return LotRisk(
        together,
        consumer=1.0 - together if decision == Decision.ACCEPTED.value else None,
        producer=together if decision == Decision.REJECTED.value else None,
    )
