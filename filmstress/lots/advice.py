"""What would settle a wafer that is too close to a limit to tell."""

from __future__ import annotations

import math

from filmstress.records.lot import Specification, WaferOutcome, WouldDecide
from filmstress.stats.budget import most_worth_improving, required_u
from filmstress.stats.conformance import Decision, conformance_probability, decide

# A stress better known than this against now is beyond what a better gauge can bring.
_LEAST = 1e-3


def would_decide(outcome: WaferOutcome, specification: Specification) -> WouldDecide | None:
    """The input that would decide a wafer if it were known better, its stress staying where it is.

    Parameters
    ----------
    outcome : WaferOutcome
        Of an undecided wafer.
    specification : Specification

    Returns
    -------
    WouldDecide or None
        Without an input where no single one is enough; None where the stress lies on a limit, so
        that no measurement could tell.
    """
    stress, result = outcome.stress, outcome.result
    if stress is None or result is None or not stress.u:
        return None

    def decides(u: float) -> bool:
        probability = conformance_probability(
            stress.value,
            u=u,
            dof=stress.dof,
            lower=specification.lower,
            upper=specification.upper,
        )
        return decide(probability, specification.confidence) is not Decision.UNDECIDED

    low, high = _LEAST * stress.u, stress.u
    if not decides(low):
        return None
    for _ in range(60):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if decides(middle) else (low, middle)
    enough = WouldDecide(outcome.id, low)
    worst = most_worth_improving(result.budget)
    names = [row.term.input for row in result.budget.rows]
    if worst is None or names.count(worst.term.input) > 1:
        return enough
    needed = required_u(result.budget, worst.term.input, target_u=low)
    if needed is None:
        return enough
    term = worst.term
    return WouldDecide(outcome.id, low, term.input, term.unit, term.u, needed)
