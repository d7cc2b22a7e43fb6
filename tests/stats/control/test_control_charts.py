"""Control charts against the worked examples of the handbook and tables of constants."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.control.chart import stated_reference
from filmstress.stats.control.constants import chart_constants
from filmstress.stats.control.individuals import (
    individuals_charts,
    moving_range_dof,
    moving_range_reference,
)
from filmstress.stats.control.small_shifts import cusum_chart, ewma_chart
from filmstress.stats.control.subgroups import Spread, subgroup_charts, subgroup_reference
from filmstress.stats.control.three_way import three_way_charts

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]

# The same, 6.3.2.4: values and their moving averages, lambda 0.3, from 50.
EWMA_X = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3]
EWMA_X += [47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
EWMA_Z = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36]
EWMA_Z += [49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]

# The same, 6.3.2.3: means of four, target 325, h 4.1959, k 0.3175.
CUSUM_X = [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600]
CUSUM_X += [324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875]
CUSUM_X += [328.350]

# Oxide thickness [Angstrom] of 8 lots of 3 wafers: the sum over 3 sites of each wafer
# (J. C. Pinheiro, D. M. Bates, Mixed-Effects Models in S and S-PLUS (2000), data "Oxide").
OXIDE = [
    (6012, 5950, 6005),
    (5969, 5964, 5957),
    (6008, 6001, 6001),
    (5987, 5998, 5972),
    (6026, 6051, 6058),
    (6098, 6066, 6030),
    (5970, 5974, 5976),
    (5981, 5986, 5971),
]


@pytest.mark.parametrize(
    ("n", "constants"),
    [
        # Tables of ISO 7870-2 and the handbook print these to three or four digits.
        (2, {"d2": 1.128, "d3": 0.8525, "c4": 0.7979, "A2": 1.880, "A3": 2.659, "D4": 3.267}),
        (5, {"d2": 2.326, "d3": 0.8641, "c4": 0.9400, "A2": 0.577, "A3": 1.427, "B4": 2.089}),
        (5, {"D4": 2.114, "B3": 0.0, "D3": 0.0}),
        (10, {"d2": 3.078, "d3": 0.797, "c4": 0.9727, "A2": 0.308, "B3": 0.284, "D3": 0.223}),
        (25, {"d2": 3.931, "c4": 0.9896, "A3": 0.606, "B3": 0.565, "B4": 1.435, "D4": 1.541}),
    ],
)
def test_constants_of_the_tables(n: int, constants: dict[str, float]) -> None:
    for name, printed in constants.items():
        # Some tables differ by one in the last digit.
        assert getattr(chart_constants(n), name) == pytest.approx(printed, abs=1.1e-3), name


def test_constants_of_pairs_are_known_in_closed_form() -> None:
    pair = chart_constants(2)
    assert pair.d2 == pytest.approx(2.0 / math.sqrt(math.pi), rel=1e-10)
    assert pair.d3 == pytest.approx(math.sqrt(2.0 - 4.0 / math.pi), rel=1e-9)
    assert pair.c4 == pytest.approx(math.sqrt(2.0 / math.pi), rel=1e-12)


def test_individuals_of_the_handbook() -> None:
    """6.3.2.2 prints 55.8041, 50.81 and 45.8159 with d2 rounded to 1.128."""
    reference = moving_range_reference(FLOW)
    singles, ranges = individuals_charts(FLOW, reference)
    assert reference.centre == pytest.approx(50.81)
    assert (singles.lower[0], singles.upper[0]) == pytest.approx((45.8159, 55.8041), abs=2e-3)
    assert ranges.centre[0] == pytest.approx(1.8778, abs=5e-5)
    assert ranges.upper[0] == pytest.approx(3.267 * 1.8778, abs=2e-3)
    assert np.isnan(ranges.points[0])
    assert singles.outside == ranges.outside == ()
    assert reference.provisional


def test_moving_average_of_the_handbook() -> None:
    """6.3.2.4: limits 52.5884 and 47.4115 once they are steady, and no signal."""
    chart = ewma_chart(EWMA_X, stated_reference(50.0, 2.0539), weight=0.3, width=3.0)
    # Printed to two digits, from printed intermediate values.
    assert chart.points == pytest.approx(EWMA_Z, abs=0.0101)
    assert chart.upper[-1] == pytest.approx(52.5884, abs=1e-3)
    assert chart.lower[-1] == pytest.approx(47.4115, abs=1e-3)
    # The first average is lambda times one value.
    assert chart.upper[0] == pytest.approx(50.0 + 3.0 * 0.3 * 2.0539)
    assert chart.outside == ()
    assert not chart.reference.provisional


def test_cumulative_sums_of_the_handbook() -> None:
    """6.3.2.3: the upper sum passes h at the fourteenth mean."""
    made = cusum_chart(
        CUSUM_X, stated_reference(325.0, 0.635), allowance=0.5, threshold=4.1959 / 0.635
    )
    high = [3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
    low = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125, 0]
    assert made.high[12:] == pytest.approx(high, abs=1e-9)
    assert made.high[4] == pytest.approx(0.0325, abs=1e-9)
    assert made.low[:12] == pytest.approx(low, abs=1e-9)
    assert made.outside[0] == 13
    (passing,) = made.passings
    assert (passing.side, passing.began, passing.told) == ("above", 12, 13)


def test_three_way_chart_of_oxide_lots() -> None:
    """From the formulas by hand: mean range of the means 12.3651, mean SD within 4.9421."""
    rows = [np.array(one) / 3.0 for one in OXIDE]
    made = three_way_charts(rows)
    assert made.means.centre[0] == pytest.approx(2000.15278, abs=1e-4)
    # 2.6586 and 3.2665 times the mean moving range 86.5556/7.
    assert made.means.lower[0] == pytest.approx(1967.2780, abs=2e-3)
    assert made.means.upper[0] == pytest.approx(2033.0276, abs=2e-3)
    assert made.moving_range.upper[0] == pytest.approx(40.3905, abs=2e-3)
    # B4 of three is 2.568 in the tables.
    assert made.within.upper[0] == pytest.approx(2.568 * 4.942128, abs=3e-3)
    assert made.means.outside == made.within.outside == ()
    assert not made.between_negative

    ordinary, _ = subgroup_charts(rows, subgroup_reference(rows))
    # A3 of three is 1.954: far too narrow here, lots 2, 5 and 6 lie beyond.
    assert ordinary.upper[0] == pytest.approx(2000.15278 + 1.954 * 4.942128, abs=3e-3)
    assert ordinary.outside == (1, 4, 5)


def test_ranges_of_subgroups_by_the_tables() -> None:
    rows = [np.array(one) / 3.0 for one in OXIDE]
    reference = subgroup_reference(rows, spread=Spread.RANGE)
    means, ranges = subgroup_charts(rows, reference, spread=Spread.RANGE)
    mean_range = float(np.mean([np.ptp(row) for row in rows]))
    # A2 1.023 and D4 2.574 (2.575 in some tables) of three.
    assert means.upper[0] - means.centre[0] == pytest.approx(1.023 * mean_range, rel=1e-3)
    assert ranges.upper[0] == pytest.approx(2.5745 * mean_range, rel=1e-3)


def test_freedom_of_a_moving_range_by_simulation() -> None:
    """2/nu is the relative variance of sigma^2; of sigma it is 1/(2 nu)."""
    values = np.random.default_rng(1).standard_normal((20_000, 30))
    sigma = np.abs(np.diff(values, axis=1)).mean(axis=1)
    found = sigma.mean() ** 2 / (2.0 * sigma.var())
    # The variance of 20 000 is good to 1 %: five standard errors.
    assert moving_range_dof(30) == pytest.approx(found, rel=0.05)


@given(
    st.lists(st.integers(-1000, 1000), min_size=6, max_size=30).filter(lambda x: len({*x}) > 1),
    st.floats(-1e3, 1e3),
    st.sampled_from([-2.0, -1.0, 0.5, 3.0]),
)
def test_charts_move_and_stretch_with_the_values(
    row: list[int], shift: float, scale: float
) -> None:
    """Tensile and compressive alike: mirrored values give mirrored limits."""
    values = np.array(row, dtype=float)
    one, _ = individuals_charts(values, moving_range_reference(values))
    moved = shift + scale * values
    other, _ = individuals_charts(moved, moving_range_reference(moved))
    ends = sorted([shift + scale * one.lower[0], shift + scale * one.upper[0]])
    assert [other.lower[0], other.upper[0]] == pytest.approx(ends, rel=1e-9, abs=1e-6)


def test_what_cannot_be_charted_is_refused() -> None:
    with pytest.raises(RefusedInput, match="do not scatter"):
        moving_range_reference([1.0, 1.0, 1.0])
    with pytest.raises(UsageError, match="at least 2"):
        moving_range_reference([1.0])
    with pytest.raises(UsageError, match="baseline"):
        moving_range_reference([1.0, 2.0, 3.0], baseline=(1, 5))
    with pytest.raises(UsageError, match="at least 2"):
        subgroup_reference([[1.0, 2.0], [3.0]])
    with pytest.raises(UsageError, match="sigma"):
        stated_reference(0.0, 0.0)
    with pytest.raises(UsageError, match="at least 2"):
        chart_constants(1)
    with pytest.raises(UsageError, match="weight"):
        ewma_chart([1.0], stated_reference(0.0, 1.0), weight=0.0)
    with pytest.raises(UsageError, match="threshold"):
        cusum_chart([1.0], stated_reference(0.0, 1.0), threshold=0.0)
