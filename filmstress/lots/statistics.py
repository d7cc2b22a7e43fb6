"""Numbers of a lot: mean, spread and extremes over the wafers that carry film."""

from __future__ import annotations

import math
from collections.abc import Sequence

from filmstress.lots.terms import products, stress_terms
from filmstress.records.lot import LotStatistics, WaferOutcome
from filmstress.stats.budget import combine, merge_shared, scale
from filmstress.stats.coverage import estimate


def lot_statistics(outcomes: Sequence[WaferOutcome]) -> LotStatistics:
    """Mean, spread and extremes; witnesses do not count.

    The mean is that of the wafers measured.  What they share (a film thickness stated for the lot,
    the substrate's modulus, a gauge) does not average away in it: JCGM 100:2008, 5.2.
    """
    carriers = products(outcomes)
    measured = [outcome for outcome in carriers if outcome.stress is not None]
    values = [outcome.stress.value for outcome in measured if outcome.stress is not None]
    n, refused = len(values), len(carriers) - len(values)
    if n == 0:
        return LotStatistics(0, refused, None, None, None, None)
    mean = math.fsum(values) / n
    terms = [term for outcome in measured for term in scale(stress_terms(outcome), 1.0 / n)]
    budget = combine(merge_shared(terms))
    deviation = None
    if n > 1:
        deviation = math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (n - 1))
    return LotStatistics(
        measured=n,
        refused=refused,
        mean=estimate(mean, "Pa", u=budget.u, dof=budget.dof),
        standard_deviation=deviation,
        lowest=min(values),
        highest=max(values),
    )
