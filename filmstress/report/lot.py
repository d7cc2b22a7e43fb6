"""A lot's result for readers: data, table, words."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.lot import LotResult, LotSpec, WaferOutcome
from filmstress.report.data import nothing_found, result_data
from filmstress.report.quantities import (
    Data,
    bare_data,
    headed,
    measured_data,
    number,
    quantity_data,
    refusal_data,
)
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

_LIMIT_NAMES = {"spread_max": "wafer to wafer", "within_max": "within a wafer"}


def lot_data(result: LotResult, version: str) -> Data:
    """One lot's result, whole; its wafers each as ``measure`` gives them."""
    statistics = result.statistics
    return {
        **headed("lot", version),
        "lot": result.lot.lot,
        "recipe": result.lot.recipe,
        "inputs": _inputs_data(result.lot),
        "decision": result.decision,
        "reason": result.reason,
        "would_decide": [
            {
                "wafer": one.wafer,
                "stress_standard_uncertainty": number(one.stress_u),
                "input": one.input or None,
                "unit": one.unit or None,
                "standard_uncertainty": number(one.u) if one.input else None,
                "needed_standard_uncertainty": number(one.needed_u) if one.input else None,
            }
            for one in result.would_decide
        ],
        "statistics": {
            "measured": statistics.measured,
            "refused": statistics.refused,
            "mean": quantity_data(statistics.mean),
            "standard_deviation": bare_data(statistics.standard_deviation, "Pa"),
            "lowest": bare_data(statistics.lowest, "Pa"),
            "highest": bare_data(statistics.highest, "Pa"),
        },
        "limits": [
            {
                "name": limit.name,
                "limit": bare_data(limit.limit, "Pa"),
                "found": bare_data(limit.found, "Pa"),
                "conformance_probability": number(limit.conformance_probability),
                "not_judged": limit.gap or None,
            }
            for limit in result.limits
        ],
        "wafers": [_wafer_data(outcome, version) for outcome in result.wafers],
        "warnings": [],
    }


def _inputs_data(lot: LotSpec) -> Data:
    specification = lot.specification
    return {
        "file": lot.path,
        "sha256": lot.sha256,
        "wafer_table": None
        if lot.table is None
        else {"file": lot.table[0], "sha256": lot.table[1]},
        "deposition": {parameter.name: parameter.text for parameter in lot.deposition},
        "deposition_quantities": {
            parameter.name: measured_data(parameter.quantity)
            for parameter in lot.deposition
            if parameter.quantity is not None
        },
        "specification": None
        if specification is None
        else {
            **{
                name: bare_data(getattr(specification, name), "Pa")
                for name in ("lower", "upper", "spread_max", "within_max")
            },
            "confidence": specification.confidence,
        },
    }


def _wafer_data(outcome: WaferOutcome, version: str) -> Data:
    """A wafer as ``measure`` gives it; where its files cannot be used, with nothing found."""
    if outcome.result is None:
        data = nothing_found(outcome.wafer, outcome.refusal, version)
    else:
        data = result_data(outcome.result, version)
    return data | {
        "conformance_probability": number(outcome.conformance_probability),
        "refusal": refusal_data(outcome.refusal),
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
        yield (
            outcome.id,
            None if stress is None else stress.value,
            None if stress is None else stress.expanded,
            one.sense,
            outcome.conformance_probability,
            None if force is None else force.value,
            one.curvature_change.value,
            _least_match(outcome),
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
    width = max(8, *(len(outcome.id) + 2 for outcome in result.wafers))
    yield f"  {'wafer':<{width}}{'stress (U at 95 %)':<26}{'':<34}{'conforms':>9}{'match':>7}"
    for outcome in result.wafers:
        p = outcome.conformance_probability
        conforms = "" if p is None else _probability(p)
        match = _least_match(outcome)
        told = "" if match is None else f"{match:.2f}"
        yield f"  {outcome.id:<{width}}{_found(outcome):<60}{conforms:>9}{told:>7}".rstrip()


def _found(outcome: WaferOutcome) -> str:
    if outcome.refusal is not None:
        return f"refused: {outcome.refusal.code}"
    one = outcome.result
    if one is None:
        return ""
    witness = ", witness" if outcome.is_witness else ""
    if one.stress is not None:
        return f"{say_estimate(one.stress, sign=True):<26}{one.sense}{witness}"
    force = say_estimate(one.force_per_width, sign=True)
    return f"{force:<26}force per width, no film thickness{witness}"


def _least_match(outcome: WaferOutcome) -> float | None:
    lines = () if outcome.result is None else outcome.result.lines
    return min(
        (line.registration.match for line in lines if line.registration is not None), default=None
    )


def _probability(p: float) -> str:
    """Three decimals, and never a 0 or 1 that is not one."""
    if p < 0.0005:
        return "< 0.001"
    return "> 0.999" if p > 0.9995 else f"{p:.3f}"


def _statistics(result: LotResult) -> Iterator[str]:
    statistics = result.statistics
    if statistics.mean is None:
        return
    yield f"  mean of {statistics.measured}: {say_estimate(statistics.mean, sign=True)}"
    if statistics.standard_deviation is not None:
        deviation = say_value(statistics.standard_deviation, "Pa", 2)
        ends = [say_value(end or 0.0, "Pa") for end in (statistics.lowest, statistics.highest)]
        yield f"  wafer to wafer: standard deviation {deviation}, from {' to '.join(ends)}"
    for limit in result.limits:
        words = [f"at most {say_value(limit.limit, 'Pa')}"]
        if limit.found is not None:
            words.append(f"found {say_value(limit.found, 'Pa', 3)}")
        if limit.conformance_probability is not None:
            words.append(f"conforms with probability {_probability(limit.conformance_probability)}")
        if limit.gap:
            words.append(limit.gap)
        yield from wrapped(", ".join(words), f"  {_LIMIT_NAMES[limit.name]}: ", WIDTH)


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
