"""A lot's result for readers: data, table, words."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.lot import LotResult, WaferOutcome
from filmstress.report.data import Data, headed, number, quantity_data, result_data
from filmstress.report.text import CAUTION, WIDTH, wrapped
from filmstress.report.words import say_estimate, say_value

TABLE_HEADS = (
    "wafer",
    "stress [Pa]",
    "expanded_uncertainty [Pa]",
    "sense",
    "conformance_probability",
    "force_per_width [N/m]",
    "curvature_change [1/m]",
    "match",
    "refusal",
    "warnings",
)


def lot_data(result: LotResult, version: str) -> Data:
    """One lot's result, whole; its wafers each as ``measure`` gives them."""
    statistics = result.statistics
    specification = result.lot.specification
    return {
        **headed("lot", version),
        "lot": result.lot.lot,
        "recipe": result.lot.recipe,
        "inputs": {
            "file": result.lot.path,
            "sha256": result.lot.sha256,
            "deposition": dict(result.lot.deposition),
            "specification": None
            if specification is None
            else {
                "lower": specification.lower,
                "upper": specification.upper,
                "spread_max": specification.spread_max,
                "within_max": specification.within_max,
                "confidence": specification.confidence,
                "unit": "Pa",
            },
        },
        "decision": result.decision,
        "reason": result.reason,
        "statistics": {
            "measured": statistics.measured,
            "refused": statistics.refused,
            "mean": quantity_data(statistics.mean),
            "standard_deviation": number(statistics.standard_deviation),
            "lowest": number(statistics.lowest),
            "highest": number(statistics.highest),
            "unit": "Pa",
        },
        "limits": [
            {
                "name": limit.name,
                "limit": limit.limit,
                "found": limit.found,
                "unit": "Pa",
                "conformance_probability": number(limit.conformance_probability),
            }
            for limit in result.limits
        ],
        "wafers": [_wafer_data(outcome, version) for outcome in result.wafers],
        "warnings": [],
    }


def _wafer_data(outcome: WaferOutcome, version: str) -> Data:
    if outcome.result is not None:
        data = result_data(outcome.result, version)
    else:
        data = {**headed("measure", version), "stress": None, "warnings": []}
    refusal = outcome.refusal
    return data | {
        "id": outcome.id,
        "conformance_probability": number(outcome.conformance_probability),
        "refusal": None
        if refusal is None
        else {"code": refusal.code.value, "message": refusal.message},
    }


def table_rows(result: LotResult) -> Iterator[tuple[object, ...]]:
    """One row a wafer under :data:`TABLE_HEADS`."""
    for outcome in result.wafers:
        one = outcome.result
        if one is None:
            code = "" if outcome.refusal is None else outcome.refusal.code.value
            yield (outcome.id, *[None] * 7, code, "")
            continue
        stress, force = one.stress, one.force_per_width
        matches = [line.registration.match for line in one.lines if line.registration is not None]
        yield (
            outcome.id,
            None if stress is None else stress.value,
            None if stress is None else stress.expanded,
            one.sense,
            outcome.conformance_probability,
            None if force is None else force.value,
            one.curvature_change.value,
            min(matches, default=None),
            "" if one.refusal is None else one.refusal.code.value,
            " ".join(dict.fromkeys(notice.code.value for notice in one.warnings)),
        )


def lot_text(result: LotResult) -> str:
    """A lot's result for a terminal: the decision, a line for each wafer, what to look at."""
    blocks = [
        list(_head(result)),
        list(_wafers(result)),
        list(_statistics(result)),
        list(_remarks(result)),
        list(wrapped(CAUTION, "", WIDTH)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _head(result: LotResult) -> Iterator[str]:
    recipe = f", recipe {result.lot.recipe}" if result.lot.recipe else ""
    yield f"Lot {result.lot.lot}{recipe}"
    if result.decision is None:
        yield "  no decision: " + result.reason
    else:
        yield from wrapped(result.reason, f"  {result.decision.upper()}: ", WIDTH)
    specification = result.lot.specification
    if specification is not None:
        limits = [
            f"{name} {say_value(value, 'Pa')}"
            for name, value in (
                ("lower", specification.lower),
                ("upper", specification.upper),
                ("spread at most", specification.spread_max),
                ("within a wafer at most", specification.within_max),
            )
            if value is not None
        ]
        yield f"  specification: {', '.join(limits)}, confidence {specification.confidence:g}"


def _wafers(result: LotResult) -> Iterator[str]:
    yield f"  {'wafer':<10}{'stress (U at 95 %)':<26}{'':<34}{'conforms':>9}{'match':>7}"
    for outcome in result.wafers:
        one = outcome.result
        if one is None or one.stress is None:
            told = one.force_per_width if one is not None else None
            if told is not None and outcome.refusal is None:
                words = (
                    f"{say_estimate(told, sign=True):<26}{'force per width, no film thickness':<34}"
                )
            else:
                words = f"{'refused':<60}"
        else:
            sense = one.sense + (", witness" if one.wafer.role == "witness" else "")
            words = f"{say_estimate(one.stress, sign=True):<26}{sense:<34}"
        p = outcome.conformance_probability
        conforms = "" if p is None else f"{p:.3f}"
        matches = (
            [line.registration.match for line in one.lines if line.registration is not None]
            if one is not None
            else []
        )
        match = f"{min(matches):.2f}" if matches else ""
        yield f"  {outcome.id:<10}{words}{conforms:>9}{match:>7}".rstrip()


def _statistics(result: LotResult) -> Iterator[str]:
    statistics = result.statistics
    if statistics.mean is None:
        return
    yield f"  mean of {statistics.measured}: {say_estimate(statistics.mean, sign=True)}"
    if statistics.standard_deviation is not None:
        yield (
            f"  wafer to wafer: standard deviation {say_value(statistics.standard_deviation, 'Pa', 2)}"
            f", from {say_value(statistics.lowest or 0.0, 'Pa')}"
            f" to {say_value(statistics.highest or 0.0, 'Pa')}"
        )
    for limit in result.limits:
        yield (
            f"  {limit.name}: found {say_value(limit.found, 'Pa')}, "
            f"conforms with probability {limit.conformance_probability:.3f}"
        )


def _remarks(result: LotResult) -> Iterator[str]:
    shared: dict[tuple[str, str], list[str]] = {}
    for outcome in result.wafers:
        if outcome.refusal is not None:
            shared.setdefault((outcome.refusal.code.value, outcome.refusal.message), []).append(
                outcome.id
            )
        if outcome.result is not None:
            for notice in outcome.result.warnings:
                shared.setdefault((notice.code.value, notice.message), []).append(outcome.id)
    if shared:
        yield "Warnings"
    count = len(result.wafers)
    for (code, message), ids in shared.items():
        who = "every wafer" if len(ids) == count and count > 1 else ", ".join(ids)
        yield from wrapped(message, f"  {who}: {code}: ", WIDTH)
