"""A lot's result for readers: data, table, words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from filmstress.errors import FilmstressError
from filmstress.records.lot import LotResult, LotSpec, Specification, WaferOutcome
from filmstress.records.notice import RefusalCode, WarningCode
from filmstress.records.quantity import Estimate
from filmstress.report.columns import columns
from filmstress.report.data import nothing_found, result_data
from filmstress.report.lot_risk import (
    probability_words,
    risk_data,
    risk_words,
    sample_data,
    sample_words,
    sampling_data,
)
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
from filmstress.report.words import say_estimate, say_rounded, say_value

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

_REFUSALS = frozenset(code.value for code in RefusalCode)
# More wafers than these are not listed one by one.
_MOST_LISTED = 8
_LIMIT_NAMES = {"spread_max": "wafer to wafer", "within_max": "within a wafer"}


def lot_data(result: LotResult, version: str) -> Data:
    """One lot's result, whole; its wafers each as ``measure`` gives them."""
    return lot_frame(result, version) | {"wafers": list(wafers_data(result, version))}


def wafers_data(result: LotResult, version: str) -> Iterator[Data]:
    """The wafers of :func:`lot_data`, one after another, for a lot that is too large to hold."""
    return (_wafer_data(outcome, version) for outcome in result.wafers)


def lot_frame(result: LotResult, version: str) -> Data:
    """All of :func:`lot_data` but its wafers, whose list is empty."""
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
        "risk": risk_data(result),
        "sample": sample_data(result),
        "statistics": {
            "measured": statistics.measured,
            "refused": statistics.refused,
            "mean": quantity_data(statistics.mean),
            "mean_conformance_probability": number(statistics.mean_conformance),
            "process_mean": quantity_data(statistics.process_mean),
            "shared_standard_uncertainty": bare_data(statistics.shared_u, "Pa"),
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
        "wafers": [],
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
            "sampling": sampling_data(specification),
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
        list(_outlook(result)),
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
    limits = specification_words(result.lot.specification)
    if limits:
        together = ", ".join(limit.replace(" ", "\u00a0") for limit in limits)
        yield from wrapped(together, "  specification: ", WIDTH)


def specification_words(specification: Specification | None) -> list[str]:
    """Each limit in words; empty where none is stated."""
    if specification is None:
        return []
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
    return [*limits, f"confidence {specification.confidence:g}"]


def _wafers(result: LotResult) -> Iterator[str]:
    heads = ("wafer", "stress (U at 95 %)", "", "conforms", "match")
    yield from columns([heads, *map(_cells, result.wafers)], right=(3, 4))


def _cells(outcome: WaferOutcome) -> tuple[str, str, str, str, str]:
    found, sense = _found(outcome)
    p, match = outcome.conformance_probability, _least_match(outcome)
    return (
        outcome.id,
        found,
        sense + (", witness" if outcome.is_witness else ""),
        "" if p is None else probability_words(p),
        "" if match is None else f"{match:.2f}",
    )


def _found(outcome: WaferOutcome) -> tuple[str, str]:
    one = outcome.result
    if outcome.refusal is not None or one is None:
        return "none", "" if outcome.refusal is None else f"refused: {outcome.refusal.code}"
    if one.stress is not None:
        return say_estimate(one.stress, sign=True), one.sense
    return say_estimate(one.force_per_width, sign=True), "no film thickness: force per width"


def _least_match(outcome: WaferOutcome) -> float | None:
    lines = () if outcome.result is None else outcome.result.lines
    return min(
        (line.registration.match for line in lines if line.registration is not None), default=None
    )


def _statistics(result: LotResult) -> Iterator[str]:
    for label, words in statistics_rows(result):
        yield from wrapped(words, f"  {label}: ", WIDTH)


def statistics_rows(result: LotResult) -> Iterator[tuple[str, str]]:
    """The lot's numbers and its limits, each with its label."""
    statistics = result.statistics
    if statistics.mean is None:
        return
    mean = f"{say_estimate(statistics.mean, sign=True)}, of the wafers measured"
    if statistics.mean_conformance is not None:
        told = probability_words(statistics.mean_conformance)
        mean += f"; conforms with probability {told}"
    yield f"mean of {statistics.measured}", mean
    if statistics.standard_deviation is not None:
        if statistics.process_mean is not None:
            process = say_estimate(statistics.process_mean, sign=True)
            yield "mean of the process they come from", process
        deviation = say_value(statistics.standard_deviation, "Pa", 2)
        ends = [say_rounded(end) for end in _ends(result)]
        spread = (
            f"standard deviation {deviation} as measured (the measurement's own scatter is in it), "
            f"from {' to '.join(ends)}"
        )
        yield "wafer to wafer", spread
    for limit in result.limits:
        words = [f"at most {say_value(limit.limit, 'Pa')}"]
        if limit.found is not None:
            words.append(f"found {say_value(limit.found, 'Pa', 3)}")
        if limit.conformance_probability is not None:
            words.append(
                f"conforms with probability {probability_words(limit.conformance_probability)}"
            )
        if limit.gap:
            words.append(limit.gap)
        yield _LIMIT_NAMES[limit.name], ", ".join(words)


def _outlook(result: LotResult) -> Iterator[str]:
    """What the decision risks, and what the wafers say of those not measured."""
    for sentence in risk_words(result):
        yield from wrapped(sentence, "  risk: ", WIDTH)
    for number_, sentence in enumerate(sample_words(result)):
        yield from wrapped(sentence, "          " if number_ else "  sample: ", WIDTH)


def _ends(result: LotResult) -> tuple[Estimate, Estimate]:
    """Lowest and highest stress among the wafers that carry a film."""
    found = [one.stress for one in result.wafers if one.stress is not None and not one.is_witness]
    return min(found, key=lambda one: one.value), max(found, key=lambda one: one.value)


def grouped_notices(wafers: Sequence[WaferOutcome]) -> dict[tuple[str, str], list[str]]:
    """Refusals, warnings and defaults by code and sentence, each with the wafers it is about."""
    about: dict[tuple[str, str], list[str]] = {}
    for outcome in wafers:
        notices = () if outcome.result is None else outcome.result.warnings
        for notice in (outcome.refusal, *notices):
            if notice is not None:
                about.setdefault((notice.code.value, notice.message), []).append(outcome.id)
    return about


def _remarks(result: LotResult) -> Iterator[str]:
    about = grouped_notices(result.wafers)
    every = sum(outcome.result is not None for outcome in result.wafers)
    defaults = {key: ids for key, ids in about.items() if key[0] == WarningCode.DEFAULT_USED}
    if defaults:
        yield "Defaults used"
    for (_, message), ids in defaults.items():
        yield from wrapped(message, f"  - {_who(ids, every, ': ')}", WIDTH)
    if defaults and len(defaults) < len(about):
        yield ""
    if len(defaults) < len(about):
        yield "Warnings"
    for (code, message), ids in about.items():
        if code != WarningCode.DEFAULT_USED:
            sentence = message.replace("\n  ", "; ")
            who = _who(ids, 0 if code in _REFUSALS else every, ", ")
            yield from wrapped(sentence, f"  {who}{code}: ", WIDTH)


def _who(ids: list[str], every: int, behind: str) -> str:
    """The wafers concerned; nothing where they are all that could be measured."""
    if len(ids) == every > 1:
        return ""
    listed = ids if len(ids) <= _MOST_LISTED else [*ids[: _MOST_LISTED - 1], "..."]
    return f"wafer{'s' if len(ids) > 1 else ''} {', '.join(listed)}{behind}"


def check_data(
    file: str, wafers: int, scans: int, faults: Sequence[FilmstressError], version: str
) -> Data:
    """What ``lot --check`` found: counts where all is well, else every fault."""
    return {
        **headed("lot-check", version),
        "file": file,
        "wafers": None if faults else wafers,
        "scans": None if faults else scans,
        "faults": [
            {"where": fault.where or None, "message": fault.message, "hint": fault.hint or None}
            for fault in faults
        ],
    }
