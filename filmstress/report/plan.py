"""A plan for readers: words for a terminal, and JSON."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.plan import Chances, Change, Plan
from filmstress.report.budget_data import budget_data
from filmstress.report.columns import columns
from filmstress.report.inputs_data import inputs_data
from filmstress.report.quantities import (
    Data,
    bare_data,
    headed,
    notices_data,
    number,
    quantity_data,
    refusal_data,
)
from filmstress.report.text import CAUTION, WIDTH, row, wrapped
from filmstress.report.words import say_estimate, say_value, say_values
from filmstress.stats.budget import most_worth_improving

DISCIPLINE = (
    "Both scans of the same wafer, along the same line, on the same support; no vacuum clamp; let "
    "the wafer reach room temperature; state bow_repeatability from ten scans of one wafer, "
    "re-loaded each time. A reference flat whose flatness over its length L is stated as d leaves "
    "the curvature unknown by up to 8 d/L^2 (common practice, no source)."
)
_SPOKEN = {"repeats": "scans of every line", "scan length": "length of the scan"}


def plan_text(plan: Plan) -> str:
    """Everything about a plan, for people."""
    blocks = [
        list(_head(plan)),
        list(_scan(plan)),
        list(_budget(plan)),
        list(_otherwise(plan)),
        list(wrapped(recommendation(plan), "", WIDTH)),
        list(wrapped(DISCIPLINE, "", WIDTH)),
        list(wrapped(CAUTION, "", WIDTH)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def recommendation(plan: Plan) -> str:
    """One plain sentence or two: what to do."""
    if plan.refusal is not None:
        return f"Do not measure it this way: {plan.refusal.message}."
    if plan.fits is False:
        return (
            "The scan after deposition would leave the height range: scan a shorter stretch, or "
            "take a thicker wafer."
        )
    unit, now = plan.stress.unit, plan.stress.expanded or 0.0
    best = plan.changes[0] if plan.changes else None
    if best is None or best.expanded > 0.9 * now:
        return "Measure as planned: nothing listed here would make it much surer."
    told = (
        f"{_advice(best)}: U falls from {say_value(now, unit, 2)} to "
        f"{say_value(best.expanded, unit, 2)}."
    )
    idle = [
        {"repeats": "more scans", "scan length": "longer scans"}[one.what]
        for one in plan.changes
        if one.what in ("repeats", "scan length") and one.expanded > 0.95 * now and one != best
    ]
    return told + (f" {' and '.join(idle).capitalize()} would hardly help." if idle else "")


def change_words(change: Change) -> str:
    """What would be done otherwise, in few words: "substrate thickness ± 1 um"."""
    size = _size(change, change.then)
    if change.what == "repeats":
        return f"{size} scans of every line"
    if change.what == "scan length":
        return f"scans of {size}"
    return f"{change.what} ± {size}"


def _advice(change: Change) -> str:
    if change.what == "repeats":
        return f"Scan every line {change.then:.0f} times in each state, re-loaded each time"
    if change.what == "scan length":
        return f"Scan {say_value(change.then, 'm', 3)}"
    return f"Know the {change.what} to ± {_size(change, change.then)} (standard uncertainty)"


def _size(change: Change, value: float) -> str:
    if change.what == "repeats":
        return f"{value:.0f}"
    if change.unit == "1":
        return f"{100.0 * value:.2g} %"
    return say_value(value, change.unit, 3 if change.what == "scan length" else 2)


def _head(plan: Plan) -> Iterator[str]:
    if plan.refusal is not None:
        yield "Such a measurement would carry no stress."
        yield from wrapped(plan.refusal.message, f"  {plan.refusal.code}: ", WIDTH)
        return
    name = "Film stress" if plan.stress.unit == "Pa" else "Force per width"
    yield f"{name} as it would be found  {say_estimate(plan.stress, sign=True)}"
    yield from wrapped(
        f"95 %, the median of {plan.trials} simulated measurements of what was stated", "  ", WIDTH
    )
    yield row("smallest told from zero", say_value(plan.least_stress, plan.stress.unit, 2))
    if plan.chances is not None:
        limits = [
            f"{name} {say_value(value, 'Pa')}"
            for name, value in (("lower", plan.lower), ("upper", plan.upper))
            if value is not None
        ]
        yield row("against the limits", f"{', '.join(limits)}, confidence {plan.confidence:g}")
        yield row("  the wafer would be", _chances(plan.chances))


def _chances(chances: Chances) -> str:
    return (
        f"accepted {_share(chances.accepted)}, undecided {_share(chances.undecided)}, rejected "
        f"{_share(chances.rejected)}"
    )


def _share(p: float) -> str:
    if 0.0 < p < 0.005:
        return "< 1 %"
    return "> 99 %" if 0.995 < p < 1.0 else f"{100.0 * p:.0f} %"


def _scan(plan: Plan) -> Iterator[str]:
    instrument = plan.instrument
    yield "The scan"
    yield row(
        "  change of bow",
        say_value(plan.bow_change, "m"),
        f"over {say_value(instrument.length_m, 'm')}",
    )
    yield row("  bow before and after", _pair(instrument.bare_bow_m, plan.bow_after))
    if plan.fits is not None and instrument.height_range_m is not None:
        fits = "fits" if plan.fits else "DOES NOT FIT"
        yield row("  height range", f"{say_value(instrument.height_range_m, 'm')}: {fits}")
    if plan.deflection is None:
        yield row("  deflection", "not judged: state the diameter")
    else:
        yield row("  deflection", f"S = {plan.deflection:.2g}", _validity(plan))
    if plan.sag is not None:
        sag = plan.sag * instrument.length_m**2 / 8.0
        yield row("  its own weight bows it by", say_value(sag, "m"), "the same in both scans")


def _pair(before: float, after: float) -> str:
    return " and ".join(say_values([before, after], "m"))


def _validity(plan: Plan) -> str:
    over = plan.stiffening or 0.0
    if abs(over) < 0.003:
        return "a linear plate serves"
    return f"stiffened by about {100.0 * over:.2g} %, which is corrected"


def _budget(plan: Plan) -> Iterator[str]:
    if plan.refusal is not None:
        return
    yield "What the uncertainty would be made of"
    for entry in plan.budget.rows:
        if entry.share < 0.005:
            continue
        part = say_value(entry.term.contribution, plan.stress.unit, 2)
        yield row(f"  {entry.term.input}", f"{part:<12}{100.0 * entry.share:.0f} %")
    worst = most_worth_improving(plan.budget)
    if worst is not None:
        yield row("  most worth improving", worst.term.input)


def _otherwise(plan: Plan) -> Iterator[str]:
    if plan.refusal is not None or not plan.changes:
        return
    yield "What could be done otherwise"
    heads = ("", "now", "then", "U then", "undecided")
    rows = [heads]
    for one in plan.changes:
        left = "" if one.chances is None else _share(one.chances.undecided)
        rows.append(
            (
                _SPOKEN.get(one.what, one.what),
                _size(one, one.now),
                _size(one, one.then),
                say_value(one.expanded, plan.stress.unit, 2),
                left,
            )
        )
    yield from columns(rows)


def plan_data(plan: Plan, version: str) -> Data:
    """A plan as one JSON object."""
    instrument, unit = plan.instrument, plan.stress.unit
    return {
        **headed("plan", version),
        "inputs": {
            **inputs_data(plan.wafer, ()),
            "instrument": {
                **{
                    name: bare_data(getattr(instrument, f"{name}_m"), "m")
                    for name in (
                        "length",
                        "noise",
                        "drift",
                        "drift_length",
                        "waviness",
                        "waviness_length",
                        "bare_bow",
                        "height_range",
                    )
                },
                "points": instrument.points,
                "repeats": instrument.repeats,
            },
            "lower": bare_data(plan.lower, "Pa"),
            "upper": bare_data(plan.upper, "Pa"),
            "confidence": plan.confidence,
        },
        "stress" if unit == "Pa" else "force_per_width": None
        if plan.refusal
        else quantity_data(plan.stress),
        "trials": plan.trials,
        "least_told_from_zero": bare_data(plan.least_stress, unit),
        "bow_change": bare_data(plan.bow_change, "m"),
        "bow_after": bare_data(plan.bow_after, "m"),
        "fits_height_range": plan.fits,
        "deflection": number(plan.deflection),
        "stiffening": number(plan.stiffening),
        "sag_curvature": bare_data(plan.sag, "1/m"),
        "chances": _chances_data(plan.chances),
        "budget": budget_data(plan.budget),
        "changes": [
            {
                "what": one.what,
                "unit": one.unit,
                "now": number(one.now),
                "then": number(one.then),
                "expanded_uncertainty": bare_data(one.expanded, unit),
                "chances": _chances_data(one.chances),
            }
            for one in plan.changes
        ],
        "recommendation": recommendation(plan),
        "warnings": notices_data(plan.warnings),
        "refusal": refusal_data(plan.refusal),
    }


def _chances_data(chances: Chances | None) -> Data | None:
    if chances is None:
        return None
    return {
        "accepted": chances.accepted,
        "rejected": chances.rejected,
        "undecided": chances.undecided,
    }
