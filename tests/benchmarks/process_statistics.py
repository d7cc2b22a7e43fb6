"""How often the 95 % intervals of comparisons, crossings and components hold the truth.

    python -m tests.benchmarks.process_statistics [--runs 5000] [--seed 1] [--out DIR]

Writes process_statistics.csv and prints it: for each case the number of runs, the share whose
interval holds the truth, and its binomial standard error.  Shared inputs are drawn anew in each run
and act on all values they are common to, as in the world.
"""

from __future__ import annotations

import argparse
import csv
import math
from collections.abc import Callable, Iterator
from dataclasses import astuple, dataclass, fields
from pathlib import Path

import numpy as np

from filmstress.records.budget import Term
from filmstress.stats.comparison import difference, ratio
from filmstress.stats.crossing import crossing
from filmstress.stats.groups import group
from filmstress.stats.multiple_comparison import all_pairs
from filmstress.stats.straight_line import fit_line
from filmstress.stats.variance_components.gauge_study import gauge_study
from filmstress.stats.variance_components.likelihood import reml_nested
from filmstress.stats.variance_components.nested import nested_anova

Random = np.random.Generator


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    case: str
    runs: int
    coverage: float
    standard_error: float


@dataclass(frozen=True)
class Shared:
    """Uncertain inputs of a study, in MPa and relative.

    ``factor`` is common to everything, ``offset`` to everything, ``gauge`` to each group or half.
    """

    factor: float = 0.0
    offset: float = 0.0
    gauge: float = 0.0


NONE = Shared()
FACTOR = Shared(factor=0.03)
ALL = Shared(factor=0.03, offset=10.0, gauge=6.0)


def disturbed(
    truth: np.ndarray, halves: np.ndarray, shared: Shared, random: Random
) -> tuple[np.ndarray, list[list[Term]]]:
    """Values as measured with one draw of the shared inputs, and the budget of each."""
    factor = 1.0 + shared.factor * random.standard_normal()
    offset = shared.offset * random.standard_normal()
    gauges = shared.gauge * random.standard_normal(2)
    values = truth * factor + offset + gauges[halves]
    terms = [
        [
            _term("modulus", shared.factor, float(value), "table"),
            _term("offset", shared.offset, 1.0, "station"),
            _term("gauge", shared.gauge, 1.0, f"gauge {half}"),
        ]
        for value, half in zip(values, halves, strict=True)
    ]
    return values, terms


def _term(name: str, u: float, sensitivity: float, common_to: str) -> Term:
    return Term(input=name, value=0.0, unit="", u=u, sensitivity=sensitivity, common_to=common_to)


def two_groups(random: Random, shared: Shared, counts: tuple[int, int]):
    """Two recipes of a few lots each, their spreads unequal."""
    halves = np.repeat([0, 1], counts)
    truth = np.array([-180.0, -150.0])[halves]
    scatter = np.array([9.0, 5.0])[halves] * random.standard_normal(len(halves))
    values, terms = disturbed(truth + scatter, halves, shared, random)
    n = counts[0]
    return group("A", values[:n], terms[:n]), group("B", values[n:], terms[n:])


def difference_holds(random: Random, shared: Shared, counts: tuple[int, int]) -> bool:
    found = difference(*two_groups(random, shared, counts))
    return found.low <= -30.0 <= found.high


def ratio_holds(random: Random, shared: Shared, counts: tuple[int, int]) -> bool:
    return ratio(*two_groups(random, shared, counts)).set.holds(180.0 / 150.0)


def crossing_holds(
    random: Random, shared: Shared, *, level: float = 0.0, unequal: bool = False, x_u: float = 0.0
) -> bool:
    """Stress against pressure with eight lots; a share of the scatter is stated, the rest not."""
    x = np.array([0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2])
    halves = np.array([0, 1] * 4)
    stated = np.array([10.0, 40.0] * 4) if unequal else np.full(8, 20.0)
    noise = np.hypot(stated, 30.0) * random.standard_normal(8)
    y, terms = disturbed(1300.0 * (x - 0.82) + noise, halves, shared, random)
    shown = x + x_u * random.standard_normal(8)
    line = fit_line(shown, y, y_u=stated, x_u=x_u or None, y_terms=terms)
    return crossing(line, level).set.holds(0.82 + level / 1300.0)


def pairs_hold(random: Random, equal_spread: bool) -> bool:
    spreads = (5.0, 5.0, 5.0) if equal_spread else (3.0, 6.0, 9.0)
    groups = [
        group(name, spread * random.standard_normal(count))
        for name, spread, count in zip("ABC", spreads, (5, 6, 8), strict=True)
    ]
    return all(
        one.low <= 0.0 <= one.high for one in all_pairs(groups, equal_spread=equal_spread).pairs
    )


LOT, WAFER, SITE = 8.0, 4.0, 3.0


def nested_draw(random: Random, lots: int) -> tuple[np.ndarray, dict[str, list[int]]]:
    lot, wafer = np.repeat(np.arange(lots), 9), np.tile(np.repeat(np.arange(3), 3), lots)
    y = LOT * random.standard_normal(lots)[lot]
    y = y + WAFER * random.standard_normal(3 * lots)[3 * lot + wafer]
    y = y + SITE * random.standard_normal(9 * lots)
    return y, {"lot": lot.tolist(), "wafer": wafer.tolist()}


def component_holds(random: Random, name: str, *, reml: bool = False) -> bool:
    y, levels = nested_draw(random, 8)
    truth = {"lot": LOT**2, "wafer": WAFER**2, "repeat": SITE**2}
    truth["total"] = sum(truth.values())
    found = (reml_nested if reml else nested_anova)(y, levels)
    one = next(c for c in (*found.components, found.total) if c.name == name)
    return one.low <= truth[name] <= one.high


def gauge_holds(random: Random) -> bool:
    part, operator = np.repeat(np.arange(10), 9), np.tile(np.repeat(np.arange(3), 3), 10)
    y = 5.0 * random.standard_normal(10)[part] + 1.0 * random.standard_normal(3)[operator]
    y = y + random.standard_normal(90)
    found = gauge_study(y, part.tolist(), operator.tolist()).of_total
    return found.low <= 100.0 * math.sqrt(2.0 / 27.0) <= found.high


CASES: dict[str, Callable[[Random], bool]] = {
    "difference, 4 and 6 lots": lambda r: difference_holds(r, NONE, (4, 6)),
    "difference, 4 and 6 lots, shared factor": lambda r: difference_holds(r, FACTOR, (4, 6)),
    "difference, 4 and 6 lots, shared factor, offset, gauges": lambda r: difference_holds(
        r, ALL, (4, 6)
    ),
    "difference, 10 and 12 lots, shared factor, offset, gauges": lambda r: difference_holds(
        r, ALL, (10, 12)
    ),
    "ratio, 6 and 8 lots": lambda r: ratio_holds(r, NONE, (6, 8)),
    "ratio, 6 and 8 lots, shared factor": lambda r: ratio_holds(r, FACTOR, (6, 8)),
    "zero crossing": lambda r: crossing_holds(r, NONE),
    "zero crossing, shared factor": lambda r: crossing_holds(r, FACTOR),
    "zero crossing, shared factor, offset, gauges": lambda r: crossing_holds(r, ALL),
    "zero crossing, uncertainties 10 and 40": lambda r: crossing_holds(r, NONE, unequal=True),
    "zero crossing, pressure measured": lambda r: crossing_holds(r, NONE, x_u=0.02),
    "where stress is -200, shared factor": lambda r: crossing_holds(r, FACTOR, level=-200.0),
    "all pairs of 3, own spreads": lambda r: pairs_hold(r, False),
    "all pairs of 3, one spread": lambda r: pairs_hold(r, True),
    "variance of lots": lambda r: component_holds(r, "lot"),
    "variance of wafers": lambda r: component_holds(r, "wafer"),
    "total variance": lambda r: component_holds(r, "total"),
    "variance of lots, likelihood": lambda r: component_holds(r, "lot", reml=True),
    "gauge share of total": gauge_holds,
}
SLOW = {"variance of lots, likelihood", "all pairs of 3, own spreads", "all pairs of 3, one spread"}
"""A twentieth of the runs: the studentized range and the likelihood take their time."""


def study(case: str, runs: int, seed: int) -> Row:
    """Coverage of one case."""
    random = np.random.default_rng(seed)
    held = sum(CASES[case](random) for _ in range(runs)) / runs
    return Row(case, runs, held, math.sqrt(held * (1.0 - held) / runs))


def rows(runs: int, seed: int) -> Iterator[Row]:
    for number, case in enumerate(CASES):
        yield study(case, runs // 20 if case in SLOW else runs, seed + number)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=None)
    stated = parser.parse_args()
    found = []
    for row in rows(stated.runs, stated.seed):
        print(
            f"{row.case:60s} {row.runs:6d}  {row.coverage:.4f} ± {row.standard_error:.4f}",
            flush=True,
        )
        found.append(row)
    if stated.out is not None:
        stated.out.mkdir(parents=True, exist_ok=True)
        with (stated.out / "process_statistics.csv").open(
            "w", newline="", encoding="utf-8"
        ) as file:
            writer = csv.writer(file)
            writer.writerow([field.name for field in fields(Row)])
            writer.writerows(astuple(row) for row in found)


if __name__ == "__main__":
    main()
