"""What Monte Carlo found of a measurement, as data and in words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from filmstress.records.propagated import Comparison, MonteCarlo
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.report.quantities import Data, number, quantity_data
from filmstress.report.words import say_ends, say_value

_UNITS = {"stress": "Pa", "force_per_width": "N/m", "stress_mismatch": "Pa"}
_LABELS = {
    "stress": "film stress",
    "force_per_width": "force per width",
    "stress_mismatch": "mismatch stress",
}


def monte_carlo_data(found: MonteCarlo | None) -> Data | None:
    """One quantity for each output, with both intervals and the comparison with the first order."""
    if found is None:
        return None
    return {
        "draws": max(one.drawn.draws for _, one in found.outputs),
        "seed": found.seed,
        "asked": found.asked,
        **{name: _output_data(one, _UNITS[name]) for name, one in found.outputs},
    }


def _output_data(one: Comparison, unit: str) -> Data:
    drawn = one.drawn
    known = math.isfinite(drawn.u)
    bare = Estimate(
        drawn.value, unit, drawn.u if known else None, math.inf, None, drawn.p, None, None
    )
    data = quantity_data(drawn.stated_with(bare))
    assert data is not None
    return data | {
        "shortest_interval": [number(drawn.shortest_low), number(drawn.shortest_high)],
        "first_order_interval": [number(one.first_low), number(one.first_high)],
        "tolerance": number(one.tolerance),
        "validated": one.validated,
        "settled": drawn.settled,
    }


def monte_carlo_lines(result: StressResult) -> Iterator[tuple[str, str]]:
    """Label and words of each line; none where it only confirmed, unasked, the first order."""
    found = result.monte_carlo
    if found is None or result.refusal is not None:
        return
    if not found.asked and not any(found.instead(name) for name, _ in found.outputs):
        return
    draws = max(one.drawn.draws for _, one in found.outputs)
    yield "Monte Carlo", f"{draws} draws of all inputs, seed {found.seed} (JCGM 101)"
    for name, one in found.outputs:
        unit, drawn = _UNITS[name], one.drawn
        low, high = say_ends(drawn.low, drawn.high, one.tolerance, unit)
        yield f"  {_LABELS[name]}, 95 %", f"{low} to {high}"
        low, high = say_ends(drawn.shortest_low, drawn.shortest_high, one.tolerance, unit)
        yield "    shortest", f"{low} to {high}"
        off = max(abs(one.first_low - drawn.low), abs(one.first_high - drawn.high))
        verdict = "stands" if one.validated else "fails"
        yield (
            "    first order",
            f"{verdict}: off by {say_value(off, unit, 2)}, tolerance "
            f"{say_value(one.tolerance, unit, 2)}",
        )
        if not drawn.settled:
            yield "", "not settled to the tolerance: its ends move with the seed"


def told_interval(result: StressResult, told: Estimate) -> str | None:
    """In words, the interval that stands in for the first order's; None where that stands."""
    name = "stress" if result.stress is not None else "force_per_width"
    found = result.monte_carlo
    one = None if found is None else found.of(name)
    if one is None or one.validated:
        return None
    low, high = say_ends(one.drawn.low, one.drawn.high, one.tolerance, told.unit)
    share = f"{told.p:.0%}".replace("%", " %")
    return f"{share}, by Monte Carlo: {low} to {high} (± is the farther end)"
