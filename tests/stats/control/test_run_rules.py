"""Run rules: which points signal, and how often they would without cause."""

from __future__ import annotations

import numpy as np
import pytest

from filmstress.errors import UsageError
from filmstress.stats.control.chart import stated_reference
from filmstress.stats.control.individuals import individuals_charts
from filmstress.stats.control.rules import (
    BEYOND_LIMIT,
    EIGHT_ONE_SIDE,
    FOUR_OF_FIVE,
    NINE_ONE_SIDE,
    RULE_SETS,
    TWO_OF_THREE,
    Rule,
    Signal,
    rules_by_name,
    signals,
)
from filmstress.stats.control.run_length import (
    cusum_run_length,
    ewma_run_length,
    rules_run_length,
)


def found(z: list[float], *names: str) -> tuple[Signal, ...]:
    chart, _ = individuals_charts(z, stated_reference(0.0, 1.0))
    return signals(chart, rules_by_name(names))


@pytest.mark.parametrize(
    ("rules", "average"),
    [
        # C. W. Champ, W. H. Woodall, Technometrics 29 (1987) 393, table 1 (from memory; 91.75 is
        # cited widely).
        ((BEYOND_LIMIT,), 370.40),
        ((BEYOND_LIMIT, TWO_OF_THREE), 225.44),
        ((BEYOND_LIMIT, FOUR_OF_FIVE), 166.05),
        ((BEYOND_LIMIT, EIGHT_ONE_SIDE), 152.73),
        ((BEYOND_LIMIT, TWO_OF_THREE, FOUR_OF_FIVE), 132.89),
        (RULE_SETS["western-electric"], 91.75),
    ],
)
def test_run_lengths_of_western_electric(rules: tuple[Rule, ...], average: float) -> None:
    assert rules_run_length(rules).average == pytest.approx(average, abs=0.006)


@pytest.mark.parametrize(
    ("shift", "all_rules", "limit"), [(0.5, 27.33, 155.22), (1.0, 9.22, 43.89), (2.0, 3.13, 6.30)]
)
def test_run_lengths_after_a_shift(shift: float, all_rules: float, limit: float) -> None:
    """Computed for this by another Markov chain and, for the limit alone, in closed form."""
    found_ = rules_run_length(RULE_SETS["western-electric"], shift=shift)
    assert found_.average == pytest.approx(all_rules, abs=0.006)
    alone = rules_run_length((BEYOND_LIMIT,), shift=shift)
    assert alone.average == pytest.approx(limit, abs=0.006)


def test_run_length_of_nine_on_one_side() -> None:
    """Computed for this by another Markov chain."""
    found_ = rules_run_length((BEYOND_LIMIT, NINE_ONE_SIDE))
    assert found_.average == pytest.approx(216.70, abs=0.01)


@pytest.mark.parametrize(
    ("weight", "width", "shift", "average"),
    [
        # J. M. Lucas, M. S. Saccucci, Technometrics 32 (1990) 1, table 3, near 500 in control
        # (from memory); the others computed for this by a 401-point rule.
        (0.1, 2.814, 0.0, 499.6),
        (0.25, 2.998, 0.0, 499.8),
        (0.2, 2.86, 0.0, 371.1),
        (0.2, 2.86, 1.0, 9.80),
        (0.1, 2.70, 0.5, 28.19),
        (0.3, 3.0, 2.0, 3.51),
    ],
)
def test_run_lengths_of_the_moving_average(
    weight: float, width: float, shift: float, average: float
) -> None:
    made = ewma_run_length(weight=weight, width=width, shift=shift)
    assert made.average == pytest.approx(average, rel=2e-3)


@pytest.mark.parametrize(
    ("threshold", "shift", "average"),
    [
        # J. M. Lucas, R. B. Crosier, Technometrics 24 (1982) 199, table 1: h 4 and h 5.
        (4.0, 0.0, 168.0),
        (5.0, 0.0, 465.0),
        (4.0, 1.0, 8.38),
        (5.0, 1.0, 10.4),
        (5.0, 2.0, 4.01),
    ],
)
def test_run_lengths_of_cumulative_sums(threshold: float, shift: float, average: float) -> None:
    made = cusum_run_length(allowance=0.5, threshold=threshold, shift=shift)
    assert made.average == pytest.approx(average, rel=4e-3)


def test_simulated_run_lengths_meet_the_chain() -> None:
    """A rule of trends that hardly ever acts (once in 1e13) sends the others to the simulation."""
    trend = rules_by_name("nelson-3")[0]
    never = Rule("16 rising", trend.pattern, 16, 16)
    made = rules_run_length((*RULE_SETS["western-electric"], never))
    assert made.simulated
    # Five standard errors: a right program fails once in two million.
    assert abs(made.average - 91.75) < 5.0 * made.standard_error


@pytest.mark.parametrize(
    ("name", "z", "index", "side"),
    [
        ("western-electric-2", [2.1, 0.0, 2.2], 2, "above"),
        ("western-electric-3", [-1.1, -1.2, 0.5, -1.3, -1.4], 4, "below"),
        ("western-electric-4", [0.5] * 8, 7, "above"),
        ("nelson-2", [-0.5] * 9, 8, "below"),
        ("nelson-3", [-1.0, -0.5, 0.0, 0.4, 0.8, 1.2], 5, "rising"),
        ("nelson-4", [0.5, -0.5] * 7, 13, ""),
        ("nelson-7", [0.5, -0.5, 0.1] * 5, 14, ""),
        ("nelson-8", [1.5, -1.5] * 4, 7, ""),
        ("iso-2", [0.5] * 7, 6, "above"),
        ("iso-3", [0.6, 0.5, 0.4, 0.3, 0.2, 0.1, -0.1], 6, "falling"),
    ],
)
def test_each_rule_finds_its_pattern(name: str, z: list[float], index: int, side: str) -> None:
    """One point fewer shows nothing, and mirrored values signal on the other side."""
    (signal,) = found(z, name)
    assert (signal.index, signal.side) == (index, side)
    assert found(z[1:], name) == ()
    (mirrored,) = found([-x for x in z], name)
    other = {"above": "below", "below": "above", "rising": "falling", "falling": "rising", "": ""}
    assert mirrored.side == other[side]


def test_a_point_beyond_a_limit() -> None:
    (signal,) = found([0.1, -3.1, 2.9], "limits")
    assert (signal.index, signal.side, signal.points) == (1, "below", (1,))


def test_a_broken_pattern_is_none() -> None:
    assert found([0.5] * 7 + [-0.1] + [0.5] * 7, "western-electric-4") == ()
    assert found([2.1, -2.2, 0.0], "western-electric-2") == ()
    assert found([0.0, 0.1, 0.2, 0.2, 0.3, 0.4, 0.5], "nelson-3") == ()


def test_run_rules_are_refused_where_they_do_not_hold() -> None:
    _, ranges = individuals_charts(np.arange(5.0), stated_reference(0.0, 1.0))
    with pytest.raises(UsageError, match="moving range"):
        signals(ranges)
    with pytest.raises(UsageError, match="not a rule") as told:
        rules_by_name("westgard")
    assert "western-electric" in told.value.hint
    with pytest.raises(UsageError, match="no rule"):
        rules_run_length(())
