"""Limits on a lot as a whole: how far wafers, and the azimuths of one wafer, may lie apart."""

from __future__ import annotations

from collections.abc import Sequence

from filmstress.lots.terms import direction_terms, products, stress_terms
from filmstress.records.lot import LotLimit, Specification, WaferOutcome
from filmstress.stats.joint_range import independent_parts, range_probability


def lot_limits(
    outcomes: Sequence[WaferOutcome], specification: Specification | None
) -> tuple[LotLimit, ...]:
    """The stated limits on the lot, each with what was found and its probability.

    Parameters
    ----------
    outcomes : sequence of WaferOutcome
        Witnesses do not count.
    specification : Specification or None
    """
    if specification is None:
        return ()
    limits = []
    if specification.spread_max is not None:
        limits.append(_spread(outcomes, specification.spread_max))
    if specification.within_max is not None:
        limits.append(_within(outcomes, specification.within_max))
    return tuple(limits)


def _spread(outcomes: Sequence[WaferOutcome], limit: float) -> LotLimit:
    """Largest stress less the smallest, over the wafers; what all share cancels in it."""
    measured = [outcome for outcome in products(outcomes) if outcome.stress is not None]
    values = [outcome.stress.value for outcome in measured if outcome.stress is not None]
    if len(values) < 2:
        return LotLimit("spread_max", limit, None, None, "there are no two wafers to compare")
    budgets = independent_parts([stress_terms(outcome) for outcome in measured])
    probability = range_probability(values, budgets, limit=limit)
    return LotLimit("spread_max", limit, max(values) - min(values), probability)


def _within(outcomes: Sequence[WaferOutcome], limit: float) -> LotLimit:
    """The same over the azimuths of a wafer, for the wafer that keeps the limit least surely."""
    found: list[tuple[float, float]] = []
    single = []
    for outcome in products(outcomes):
        if outcome.result is None or outcome.stress is None:
            continue
        values = [along.stress.value for along in outcome.result.stress_by_direction]
        if len(values) < 2:
            single.append(outcome.id)
            continue
        budgets = independent_parts(direction_terms(outcome))
        probability = range_probability(values, budgets, limit=limit)
        found.append((probability, max(values) - min(values)))
    gap = f"one azimuth alone says nothing of it, wafers: {', '.join(single)}" if single else ""
    if not found:
        return LotLimit("within_max", limit, None, None, gap or "there is no wafer to judge")
    worst = min(probability for probability, _ in found)
    return LotLimit("within_max", limit, max(size for _, size in found), worst, gap)
