"""Run rules: named patterns found where they are, and how often they cry wolf."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from filmstress.errors import UsageError
from filmstress.stats.control.chart import stated_reference
from filmstress.stats.control.individuals import individuals_charts
from filmstress.stats.control.rule_chain import rule_chain
from filmstress.stats.control.rule_draws import draw_run_lengths
from filmstress.stats.control.rules import (
    BEYOND_LIMIT,
    FOURTEEN_ALTERNATING,
    RULE_SETS,
    SIX_TREND,
    Rule,
    rules_by_name,
    signals,
)
from filmstress.stats.control.run_length import (
    cusum_run_length,
    ewma_run_length,
    rules_run_length,
)
from filmstress.stats.control.small_shifts import cusum_chart, ewma_chart


def found_in(points: list[float], rules: tuple[Rule, ...]) -> list[tuple[int, str]]:
    chart = individuals_charts(points, stated_reference(0.0, 1.0))[0]
    return [(one.index, one.side) for one in signals(chart, rules)]


ALTERNATING = [0.1, -0.1] * 7
CASES = [
    ("western-electric-1", [0, 3.1, 0, -3.1], [(1, "above"), (3, "below")]),
    ("western-electric-2", [2.1, 0, 2.2, 0, 0], [(2, "above")]),
    ("western-electric-2", [2.1, 0, -2.2, 2.3], []),
    ("western-electric-3", [-1.1, -1.2, 0, -1.1, -1.3], [(4, "below")]),
    ("western-electric-4", [0.1] * 8, [(7, "above")]),
    ("nelson-2", [-0.1] * 8, []),
    ("nelson-2", [-0.1] * 9, [(8, "below")]),
    ("nelson-3", [0.0, 0.1, 0.2, 0.3, 0.4], []),
    ("nelson-3", [0.0, 0.1, 0.2, 0.3, 0.4, 0.5], [(5, "rising")]),
    ("nelson-3", [0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.1], [(5, "falling")]),
    ("nelson-4", ALTERNATING[:13], []),
    ("nelson-4", ALTERNATING, [(13, "")]),
    ("nelson-7", [0.2, -0.2] * 7 + [0.1], [(14, "")]),
    ("nelson-8", [1.1, -1.1] * 4, [(7, "")]),
]


@pytest.mark.parametrize(("name", "points", "expected"), CASES)
def test_patterns(name: str, points: list[float], expected: list[tuple[int, str]]) -> None:
    assert found_in(points, rules_by_name(name)) == expected


def test_a_signal_names_the_points_of_its_pattern() -> None:
    chart = individuals_charts([2.1, 0, 2.2, *ALTERNATING], stated_reference(0.0, 1.0))[0]
    (pair,) = signals(chart, rules_by_name("western-electric-2"))
    assert pair.points == (0, 2)
    first = signals(chart, (FOURTEEN_ALTERNATING,))[0]
    assert len(first.points) == 14
    assert first.points[-1] == first.index


def test_names() -> None:
    assert rules_by_name(["limits", "western-electric"]) == RULE_SETS["western-electric"]
    assert rules_by_name("nelson-3") == (SIX_TREND,)
    with pytest.raises(UsageError, match="'nelson-9' is not a rule that is known"):
        rules_by_name("nelson-9")


def test_run_rules_are_refused_where_points_are_not_independent() -> None:
    ranges = individuals_charts([1.0, 2.0, 1.5], stated_reference(0.0, 1.0))[1]
    with pytest.raises(UsageError, match="on a chart of moving range"):
        signals(ranges)


def test_limits_alone_are_a_geometric_run() -> None:
    chance = 2.0 * norm.sf(3.0)
    assert rules_run_length([BEYOND_LIMIT]).average == pytest.approx(1.0 / chance, rel=1e-9)


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_the_chain_loses_only_what_signals(shift: float) -> None:
    chain = rule_chain(RULE_SETS["western-electric"], shift)
    stays = np.bincount(chain.source, chain.probability, minlength=chain.states)
    signal = norm.sf(3.0 - shift) + norm.sf(3.0 + shift)
    assert stays[0] == pytest.approx(1.0 - signal, rel=1e-12)
    assert (stays <= stays[0] + 1e-12).all()


@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_chain_and_simulation_agree(shift: float) -> None:
    """Within 4.5 standard errors: fails once in 1e5."""
    rules = RULE_SETS["western-electric"]
    lengths = draw_run_lengths(rules, shift=shift)
    error = lengths.std() / np.sqrt(len(lengths))
    exact = rules_run_length(rules, shift=shift)
    assert abs(lengths.mean() - exact.average) < 4.5 * error


@pytest.mark.parametrize("name", ["nelson", "iso"])
def test_run_length_is_that_of_the_chart(name: str) -> None:
    """First signals on 150 simulated charts, against the stated average, 4.5 standard errors."""
    random = np.random.default_rng(7)
    rules = RULE_SETS[name]
    firsts = []
    while len(firsts) < 150:
        points, found = random.standard_normal(400), ()
        while not (found := signals(_chart(points), rules)):
            points = np.concatenate([points, random.standard_normal(len(points))])
        firsts.append(found[0].index + 1)
    stated = rules_run_length(rules)
    assert stated.simulated
    assert stated.standard_error < 0.006 * stated.average
    error = np.hypot(np.std(firsts) / np.sqrt(len(firsts)), stated.standard_error)
    assert abs(np.mean(firsts) - stated.average) < 4.5 * error


def test_small_shift_charts_run_as_long_as_said() -> None:
    """First signals of 400 simulated charts under a shift, 4.5 standard errors.

    The moving average's exact limits are narrower at first: the run may be up to 5 % shorter.
    """
    random = np.random.default_rng(8)
    reference = stated_reference(0.0, 1.0)
    sums, averages = [], []
    for _ in range(400):
        points = 0.75 + random.standard_normal(400)
        sums.append(cusum_chart(points, reference).outside[0] + 1)
        averages.append(ewma_chart(points, reference).outside[0] + 1)
    for firsts, stated, early in (
        (sums, cusum_run_length(allowance=0.5, threshold=4.77, shift=0.75), 0.0),
        (averages, ewma_run_length(weight=0.2, width=2.86, shift=0.75), 0.05),
    ):
        bound = 4.5 * np.std(firsts) / np.sqrt(len(firsts))
        assert -bound - early * stated.average < np.mean(firsts) - stated.average < bound


def test_defaults_have_the_false_alarms_of_three_sigma() -> None:
    plain = rules_run_length([BEYOND_LIMIT]).average
    assert ewma_run_length(weight=0.2, width=2.86).average == pytest.approx(plain, rel=0.01)
    assert cusum_run_length(allowance=0.5, threshold=4.77).average == pytest.approx(plain, rel=0.01)


def _chart(points: np.ndarray):
    return individuals_charts(points, stated_reference(0.0, 1.0))[0]
