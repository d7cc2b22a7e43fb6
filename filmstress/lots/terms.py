"""Budget terms of a wafer among the wafers of its lot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from filmstress.records.budget import Term
from filmstress.records.lot import WaferOutcome
from filmstress.stats.budget import parted


def products(outcomes: Iterable[WaferOutcome]) -> list[WaferOutcome]:
    """The wafers that carry film."""
    return [outcome for outcome in outcomes if not outcome.is_witness]


def stress_terms(outcome: WaferOutcome) -> tuple[Term, ...]:
    """Terms of a wafer's stress; those of its own bear its name, so that two wafers' stay apart."""
    if outcome.result is None:
        return ()
    return _named((row.term for row in outcome.result.budget.rows), outcome.id)


def direction_terms(outcome: WaferOutcome) -> tuple[Sequence[Term], ...]:
    """Terms of the stress along each direction of a wafer, in the result's order.

    What two directions share (thicknesses, scales, and the curvature of each line, which enters
    all of them) has one name in all of them.
    """
    if outcome.result is None or outcome.result.stress is None:
        return ()
    return tuple(
        _named((row.term for row in along.budget.rows), outcome.id)
        for along in outcome.result.stress_by_direction
    )


def _named(terms: Iterable[Term], wafer_id: str) -> tuple[Term, ...]:
    own = f"wafer {wafer_id}"
    return tuple(one if one.common_to else replace(one, common_to=own) for one in parted(terms))
