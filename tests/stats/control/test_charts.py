"""Charts: limits that follow from their definitions, baselines, scatter between and within."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.control.chart import SETTLED_AT, stated_reference
from filmstress.stats.control.individuals import individuals_charts, moving_range_reference
from filmstress.stats.control.small_shifts import cusum_chart, ewma_chart
from filmstress.stats.control.subgroups import Spread, subgroup_charts, subgroup_reference
from filmstress.stats.control.three_way import three_way_charts

rows = st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=30).filter(
    lambda row: max(row) - min(row) > 1e-3
)


@given(rows, st.floats(-100.0, 100.0), st.floats(0.1, 10.0))
def test_limits_move_with_the_unit(row: list[float], offset: float, factor: float) -> None:
    before = individuals_charts(row, moving_range_reference(row))[0]
    moved = [factor * one + offset for one in row]
    after = individuals_charts(moved, moving_range_reference(moved))[0]
    assert after.upper == pytest.approx(factor * before.upper + offset, abs=1e-6)
    assert after.lower == pytest.approx(factor * before.lower + offset, abs=1e-6)


def test_a_baseline_takes_no_other_points() -> None:
    row = [1.0, 2.0, 1.5, 2.5, 90.0, -50.0]
    found = moving_range_reference(row, baseline=(0, 4))
    alone = moving_range_reference(row[:4])
    assert (found.centre, found.sigma) == (alone.centre, alone.sigma)
    assert found.baseline == (0, 4)
    assert individuals_charts(row, found)[0].outside == (4, 5)
    with pytest.raises(UsageError, match="a baseline from 4 up to 9 of 6"):
        moving_range_reference(row, baseline=(4, 9))


def test_limits_are_provisional_until_settled() -> None:
    row = np.sin(np.arange(SETTLED_AT))
    assert moving_range_reference(row[:-1]).provisional
    assert not moving_range_reference(row).provisional
    assert not stated_reference(0.0, 1.0).provisional


def test_no_scatter_is_refused() -> None:
    with pytest.raises(RefusedInput, match="do not scatter at all"):
        moving_range_reference([5.0, 5.0, 5.0])


@pytest.mark.parametrize("spread", list(Spread))
def test_sigma_of_unequal_subgroups_is_unbiased(spread: Spread) -> None:
    """Mean of 2000 estimates within 4.5 of its standard errors: fails once in 1e5."""
    random = np.random.default_rng(4)
    sizes = (2, 3, 5, 8)
    found = [
        subgroup_reference([random.standard_normal(n) for n in sizes], spread=spread).sigma
        for _ in range(2000)
    ]
    assert abs(np.mean(found) - 1.0) < 4.5 * np.std(found) / math.sqrt(len(found))


def test_subgroup_charts_of_equal_size_use_the_constants() -> None:
    """Grand mean ± A3 s-bar and B4 s-bar, or A2 R-bar and D4 R-bar, constants as printed for 4."""
    random = np.random.default_rng(5)
    data = random.normal(10.0, 2.0, (30, 4))
    for spread, per_mean, upper in ((Spread.SD, 1.628, 2.266), (Spread.RANGE, 0.729, 2.282)):
        each = data.std(axis=1, ddof=1) if spread is Spread.SD else np.ptp(data, axis=1)
        reference = subgroup_reference(list(data), spread=spread)
        means, spreads = subgroup_charts(list(data), reference, spread=spread)
        half = per_mean * each.mean()
        assert means.upper[0] - data.mean() == pytest.approx(half, rel=1e-3)
        assert spreads.upper[0] == pytest.approx(upper * each.mean(), rel=1e-3)
        assert spreads.centre[0] == pytest.approx(each.mean(), rel=1e-12)


def test_lots_that_differ_do_not_signal_on_the_three_charts() -> None:
    """4000 lots in control whose means scatter by more than wafers: 0.27 % beyond three sigma.

    Binomial bound: more than 26 of 4000 at 0.0035 (limits themselves known to 1 %) once in 1e3.
    """
    random = np.random.default_rng(6)
    lots = 8.0 * random.standard_normal((4000, 1)) + 2.0 * random.standard_normal((4000, 3))
    found = three_way_charts(list(lots))
    assert len(found.means.outside) <= binom.ppf(1.0 - 1e-3, 4000, 0.0035)
    ordinary = subgroup_charts(list(lots), subgroup_reference(list(lots)))[0]
    assert len(ordinary.outside) > 2000
    assert found.sigma_between == pytest.approx(8.0, rel=0.06)
    assert found.sigma_within == pytest.approx(2.0, rel=0.04)
    assert not found.between_negative


def test_nothing_between_lots_is_said() -> None:
    lots = [[0.0, 9.0], [9.1, 0.0], [0.0, 9.2], [9.1, 0.1]]
    found = three_way_charts(lots)
    assert (found.sigma_between, found.between_negative) == (0.0, True)


@given(rows, st.floats(0.05, 1.0))
def test_moving_average_limits_are_its_own_scatter(row: list[float], weight: float) -> None:
    """Against the sum of squared weights of all points up to each."""
    chart = ewma_chart(row, stated_reference(0.0, 2.0), weight=weight, width=3.0)
    for i in (0, len(row) - 1):
        weights = weight * (1.0 - weight) ** np.arange(i + 1)
        assert chart.points[i] == pytest.approx(weights @ np.array(row[i::-1]), abs=1e-8)
        assert chart.upper[i] == pytest.approx(6.0 * np.sqrt(weights @ weights))


def test_sums_find_when_a_shift_began_and_how_large_it_is() -> None:
    row = [0.1, -0.1, 0.2, -0.2, -0.1, *[-2.0] * 10]
    found = cusum_chart(row, stated_reference(0.0, 1.0))
    (passing,) = found.passings
    assert (passing.side, passing.began, passing.last) == ("below", 5, 14)
    assert passing.shift == pytest.approx(-2.0)
    assert cusum_chart(row[:5], stated_reference(0.0, 1.0)).outside == ()


def test_sums_tell_every_shift_and_not_only_the_first() -> None:
    """A shift down, back, up, and down once more; by hand with k = 0.5 and h = 4."""
    row = [*[-2.0] * 4, *[0.0] * 14, *[3.0] * 3, *[0.0] * 14, -6.0]
    found = cusum_chart(row, stated_reference(0.0, 1.0), threshold=4.0)
    told = [(one.side, one.began, one.told, one.last, one.shift) for one in found.passings]
    # Down: 1.5, 3, 4.5, 6, then 0.5 less each time; up: 2.5, 5, 7.5, and back; down: 5.5.
    assert told == [
        ("below", 0, 2, 6, pytest.approx(-2.0)),
        ("above", 18, 19, 26, pytest.approx(3.0)),
        ("below", 35, 35, 35, pytest.approx(-6.0)),
    ]
    assert set(found.outside) == {i for one in told for i in range(one[2], one[3] + 1)}
