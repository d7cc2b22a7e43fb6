"""The result by the wafer's own weight, in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.budget import Budget
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.records.weighing import Calibrated, WeightCalibration
from filmstress.report.budget_data import budget_data
from filmstress.report.fit_data import line_data
from filmstress.report.quantities import Data, bare_data, number, quantity_data
from filmstress.report.words import say_estimate, say_plus_minus, say_value

# Rows of a budget that are worth naming.
_MAIN = 2


def weighing_rows(result: StressResult) -> Iterator[tuple[str, str, str]]:
    """Label, text and note of each line; nothing where the weight was not told."""
    found = result.weight
    if found is None:
        return
    name = "stress" if found.by_weight.stress is not None else "force per width"
    yield f"  {name} by weight", say_estimate(_told(found.by_weight), sign=True), ""
    if found.by_weight.stress is not None:
        force = say_estimate(found.by_weight.force_per_width, sign=True)
        yield "  force per width by weight", force, ""
    if found.combined is not None and found.weight_share is not None:
        share = f"{100 * found.weight_share:.0f} % by weight, the rest as stated"
        yield f"  {name}, both combined", say_estimate(_told(found.combined), sign=True), share
    yield "  stiffness seen over stated", say_estimate(found.stiffness_ratio), ""
    seen = found.thickness_seen
    thickness = "" if seen.u is None else say_plus_minus(seen.value, seen.u, "m")
    yield "  as if the wafer were", f"{thickness} thick", "standard uncertainty; modulus as stated"
    change = say_estimate(found.change_seen, sign=True)
    yield "  the weight's curvature", change, f"expected {say_value(found.change_expected, '1/m')}"


def weighing_sentences(result: StressResult) -> Iterator[str]:
    """What the weight does without, which of the two is known better, and by what."""
    found, ordinary = result.weight, result.stress or result.force_per_width
    if found is None or ordinary is None or ordinary.u is None:
        return
    weighed = _told(found.by_weight)
    yield (
        "from bare scans on two supports, in place of the substrate's thickness, its modulus and "
        f"the height scale; there the weight bends it as a film of "
        f"{say_value(abs(found.equal_force), 'N/m', 3)} would"
    )
    if weighed.u is None:
        return
    if not found.agrees:
        yield "it does not agree with the stress stated above: see the warning; nothing is combined"
    elif weighed.u < ordinary.u:
        yield (
            f"here the weight tells more: most of the uncertainty above is from "
            f"{_largest(result.budget)}; by weight, from {_largest(found.by_weight.budget)}"
        )
    else:
        yield (
            "here the weight tells less than what was stated, and is a check on it: most of its "
            f"uncertainty is from {_largest(found.by_weight.budget)}"
        )


def _told(found: Calibrated) -> Estimate:
    return found.stress or found.force_per_width


def _largest(budget: Budget) -> str:
    rows = [row for row in budget.rows if row.share > 0.1][:_MAIN] or list(budget.rows[:1])
    return " and ".join(f"{row.term.input} ({100 * row.share:.0f} %)" for row in rows)


def weighing_data(found: WeightCalibration | None) -> Data | None:
    """The whole of it for JSON."""
    if found is None:
        return None
    return {
        **_calibrated_data(found.by_weight),
        "combined": None
        if found.combined is None
        else {**_calibrated_data(found.combined), "weight_share": number(found.weight_share)},
        "agrees": found.agrees,
        "normalised_difference": number(found.normalised_difference),
        "stiffness_ratio": quantity_data(found.stiffness_ratio),
        "stiffness_ratio_budget": budget_data(found.ratio_budget),
        "thickness_seen": quantity_data(found.thickness_seen),
        "curvature_change": quantity_data(found.change_seen),
        "curvature_change_expected": bare_data(found.change_expected, "1/m"),
        "equal_force_per_width": bare_data(found.equal_force, "N/m"),
        "large_deflection_share": number(found.stretched),
        "lines": [line_data(line) for line in found.lines],
    }


def _calibrated_data(found: Calibrated) -> Data:
    return {
        "force_per_width": quantity_data(found.force_per_width),
        "stress": quantity_data(found.stress),
        "budget_of": "force_per_width" if found.stress is None else "stress",
        "budget": budget_data(found.budget),
    }
