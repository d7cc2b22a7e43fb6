"""Numbers of a lot: mean, spread and extremes over the wafers that carry film."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from filmstress.lots.terms import products, stress_terms
from filmstress.records.budget import Budget, Term
from filmstress.records.lot import LotStatistics, Specification, WaferOutcome
from filmstress.records.quantity import Estimate
from filmstress.stats.budget import combine, merge_shared, scale
from filmstress.stats.conformance import conformance_probability
from filmstress.stats.coverage import estimate


def lot_statistics(
    outcomes: Sequence[WaferOutcome], specification: Specification | None = None
) -> LotStatistics:
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
    shared = combine(merge_shared(_shared(terms)))
    of_mean = estimate(mean, "Pa", u=budget.u, dof=budget.dof)
    return LotStatistics(
        measured=n,
        refused=refused,
        mean=of_mean,
        standard_deviation=deviation,
        lowest=min(values),
        highest=max(values),
        shared_u=shared.u,
        process_mean=_process_mean(mean, shared, deviation, n),
        mean_conformance=_conformance(of_mean, specification),
    )


def _shared(terms: Sequence[Term]) -> list[Term]:
    """The terms of inputs that more than one wafer has."""
    count = Counter((one.input, one.common_to) for one in terms)
    return [one for one in terms if one.common_to and count[one.input, one.common_to] > 1]


def _process_mean(mean: float, shared: Budget, deviation: float | None, n: int) -> Estimate | None:
    """The mean as that of the process: its wafers' scatter holds their own uncertainties too."""
    if deviation is None:
        return None
    scatter = deviation / math.sqrt(n)
    u = math.hypot(shared.u, scatter)
    if u == 0.0:
        return estimate(mean, "Pa", u=0.0)
    # Welch and Satterthwaite, JCGM 100:2008, G.2b.
    lost = (scatter / u) ** 4 / (n - 1) + (shared.u / u) ** 4 / shared.dof
    return estimate(mean, "Pa", u=u, dof=1.0 / lost if lost else math.inf)


def _conformance(mean: Estimate, specification: Specification | None) -> float | None:
    if specification is None or mean.u is None:
        return None
    if specification.lower is None and specification.upper is None:
        return None
    return conformance_probability(
        mean.value,
        u=mean.u,
        dof=mean.dof,
        lower=specification.lower,
        upper=specification.upper,
    )
