"""What the wafers measured say of those of the lot that were not."""

from __future__ import annotations

import math

from filmstress.records.lot import LotStatistics, SampleStatement, Sampling, Specification
from filmstress.stats.sampling import MOST, acceptance_probability, variables_plan
from filmstress.stats.tolerance import content_confidence, tolerance_interval


def sample_statement(
    statistics: LotStatistics, specification: Specification | None
) -> SampleStatement | None:
    """The statement on the lot that its sample carries; None where none is asked for.

    Parameters
    ----------
    statistics : LotStatistics
        Of the wafers measured.  Their scatter holds their measurements' own uncertainties, which
        makes the statement a little too cautious; what the measurements share is not in the
        scatter and widens it apart.
    specification : Specification or None
    """
    sampling = None if specification is None else specification.sampling
    if specification is None or sampling is None:
        return None
    n, mean, sd = statistics.measured, statistics.mean, statistics.standard_deviation
    if mean is None or sd is None or mean.u is None:
        return SampleStatement(n, gap="a sample wants two wafers or more with a stress")
    if sampling.lot_size is not None and n >= sampling.lot_size:
        return SampleStatement(n)
    lower, upper = specification.lower, specification.upper
    sides = 1 if (lower is None) != (upper is None) else 2
    low, high = tolerance_interval(
        mean=mean.value,
        sd=sd,
        n=n,
        content=sampling.content,
        confidence=sampling.confidence,
        sides=sides,
        shared_u=statistics.shared_u,
    )
    reached = enough = None
    if lower is not None or upper is not None:
        reached = _reached(n, statistics, specification, sampling)
        if reached < sampling.confidence:
            enough = _enough(n, statistics, specification, sampling)
    planned, accepts = _plan(n, sd, statistics.shared_u, sampling)
    return SampleStatement(
        measured=n,
        low=low if sides == 2 or lower is not None else None,
        high=high if sides == 2 or upper is not None else None,
        reached=reached,
        enough=enough,
        planned=planned,
        accepts_aql=accepts,
    )


def _reached(
    n: int, statistics: LotStatistics, specification: Specification, sampling: Sampling
) -> float:
    assert statistics.mean is not None
    assert statistics.standard_deviation is not None
    return content_confidence(
        mean=statistics.mean.value,
        sd=statistics.standard_deviation,
        n=n,
        content=sampling.content,
        lower=specification.lower,
        upper=specification.upper,
        shared_u=statistics.shared_u,
    )


def _enough(
    n: int, statistics: LotStatistics, specification: Specification, sampling: Sampling
) -> int | None:
    """The least number of wafers of the same mean and scatter that would show it."""

    def shown(number: int) -> bool:
        return _reached(number, statistics, specification, sampling) >= sampling.confidence

    most = MOST if sampling.lot_size is None else sampling.lot_size
    low, high = n, n
    while not shown(high):
        if high >= most:
            return None
        low, high = high, min(2 * high, most)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shown(middle) else (middle, high)
    return high


def _plan(
    n: int, sd: float, shared_u: float, sampling: Sampling
) -> tuple[int | None, float | None]:
    """Wafers that the AQL wants, and how surely as many as were measured accept a lot at it."""
    if sampling.aql is None or not (sd > 0.0 and math.isfinite(shared_u / sd)):
        return None, None
    rejectable, risk = 1.0 - sampling.content, 1.0 - sampling.confidence
    shared = shared_u / sd
    plan = variables_plan(
        acceptable=sampling.aql,
        producer_risk=sampling.producer_risk,
        rejectable=rejectable,
        consumer_risk=risk,
        shared=shared,
    )
    accepts = acceptance_probability(
        n,
        nonconforming=sampling.aql,
        rejectable=rejectable,
        consumer_risk=risk,
        shared=shared,
    )
    return None if plan is None else plan.n, accepts
