"""What a lot's result says of its risks, and of the wafers that were not measured."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.lot import LotResult, Specification
from filmstress.report.quantities import Data, bare_data, number
from filmstress.report.words import say_values


def probability_words(p: float) -> str:
    """Three decimals, and never a 0 or 1 that is not one."""
    if p < 0.0005:
        return "< 0.001"
    return "> 0.999" if p > 0.9995 else f"{p:.3f}"


def risk_data(result: LotResult) -> Data | None:
    """How likely the decision is wrong."""
    risk = result.risk
    if risk is None:
        return None
    return {
        "all_wafers_conform": number(risk.all_conform),
        "consumers_risk": number(risk.consumer),
        "producers_risk": number(risk.producer),
    }


def sampling_data(specification: Specification) -> Data | None:
    """What is asked of a sample."""
    sampling = specification.sampling
    if sampling is None:
        return None
    return {
        "lot_size": sampling.lot_size,
        "content": sampling.content,
        "confidence": sampling.confidence,
        "aql": sampling.aql,
        "producer_risk": sampling.producer_risk,
    }


def sample_data(result: LotResult) -> Data | None:
    """What the sample says of the lot."""
    sample = result.sample
    if sample is None:
        return None
    return {
        "measured": sample.measured,
        "tolerance_interval": [bare_data(sample.low, "Pa"), bare_data(sample.high, "Pa")],
        "confidence_reached": number(sample.reached),
        "wafers_that_would_do": sample.enough,
        "wafers_planned": sample.planned,
        "accepts_at_aql": number(sample.accepts_aql),
        "not_judged": sample.gap or None,
    }


def risk_words(result: LotResult) -> Iterator[str]:
    """One sentence on the wafers measured, and on what the decision risks."""
    risk, n = result.risk, result.statistics.measured
    if risk is None:
        return
    told = probability_words(risk.all_conform)
    if risk.consumer is not None:
        yield (
            f"consumer's risk {probability_words(risk.consumer)}: the probability that a wafer "
            "measured is outside the limits although the lot was accepted"
        )
    elif risk.producer is not None:
        every = f"all {n} wafers are" if n > 1 else "the wafer is"
        yield (
            f"producer's risk {told}: the probability that {every} within the limits although the "
            "lot was rejected"
        )
    else:
        yield (
            f"all {n} wafers conform with probability {told}"
            if n > 1
            else (f"the wafer conforms with probability {told}")
        )


def sample_words(result: LotResult) -> Iterator[str]:
    """What the sample says, and what it was asked to."""
    sample, specification = result.sample, result.lot.specification
    if sample is None or specification is None or specification.sampling is None:
        return
    asked = specification.sampling
    if sample.gap:
        yield f"says nothing of the lot: {sample.gap}"
        return
    if sample.low is None and sample.high is None:
        yield f"all {asked.lot_size} wafers of the lot were measured: nothing is inferred"
        return
    of_lot = "" if asked.lot_size is None else f" of {asked.lot_size}"
    within = _range(sample.low, sample.high)
    yield (
        f"{sample.measured} wafers{of_lot} measured. With confidence {_share(asked.confidence)}, "
        f"{_share(asked.content)} of all wafers made like them lie {within} (their stress taken "
        "as normal; what the measurements share is included)"
    )
    if sample.reached is not None:
        yield (
            f"that {_share(asked.content)} lie within the limits is shown with confidence "
            f"{probability_words(sample.reached)} (asked: {asked.confidence:g})"
        )
    if asked.aql is None or sample.accepts_aql is None:
        return
    lots = f"a lot with {_share(asked.aql)} outside a limit"
    wanted = (
        f"no number of wafers accepts it with {_share(1.0 - asked.producer_risk)}: what the "
        "measurements share is too uncertain"
        if sample.planned is None
        else f"{sample.planned} wafers would with {_share(1.0 - asked.producer_risk)}"
    )
    yield (
        f"{lots} is accepted by {sample.measured} wafers with probability "
        f"{probability_words(sample.accepts_aql)}; {wanted}"
    )


def _range(low: float | None, high: float | None) -> str:
    ends = say_values([end for end in (low, high) if end is not None], "Pa", 3)
    if low is None:
        return f"below {ends[0]}"
    return f"above {ends[0]}" if high is None else f"between {ends[0]} and {ends[1]}"


def _share(share: float) -> str:
    return f"{100.0 * share:.4g}\u00a0%"
