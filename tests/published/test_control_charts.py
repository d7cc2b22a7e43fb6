"""Control charts against printed constants, worked examples and run lengths.

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2 (public); Champ and Woodall,
Technometrics 29 (1987) 393; Lucas and Saccucci, Technometrics 32 (1990) 1; Lucas and Crosier,
Technometrics 24 (1982) 199.  Printed values from memory where marked.
"""

from __future__ import annotations

import numpy as np
import pytest

from filmstress.stats.control.chart import stated_reference
from filmstress.stats.control.constants import chart_constants
from filmstress.stats.control.individuals import individuals_charts, moving_range_reference
from filmstress.stats.control.rules import NINE_ONE_SIDE, RULE_SETS, rules_by_name
from filmstress.stats.control.run_length import (
    cusum_run_length,
    ewma_run_length,
    rules_run_length,
)
from filmstress.stats.control.small_shifts import cusum_chart, ewma_chart

TWENTY = (
    "52.0 47.0 53.0 49.3 50.1 47.0 51.0 50.1 51.2 50.5"
    " 49.6 47.6 49.9 51.3 47.8 51.2 52.6 52.4 53.6 52.1"
)
VALUES = np.array([float(one) for one in TWENTY.split()])

# Constants as tables print them (from memory, common to the handbooks): n, A2, A3, B3, B4, c4, d2,
# d3, D3, D4.  One unit in the last place is left to the tables' own rounding.
PRINTED = """
2  1.880 2.659 0     3.267 0.7979 1.128 0.853 0     3.267
3  1.023 1.954 0     2.568 0.8862 1.693 0.888 0     2.574
4  0.729 1.628 0     2.266 0.9213 2.059 0.880 0     2.282
5  0.577 1.427 0     2.089 0.9400 2.326 0.864 0     2.114
6  0.483 1.287 0.030 1.970 0.9515 2.534 0.848 0     2.004
7  0.419 1.182 0.118 1.882 0.9594 2.704 0.833 0.076 1.924
8  0.373 1.099 0.185 1.815 0.9650 2.847 0.820 0.136 1.864
9  0.337 1.032 0.239 1.761 0.9693 2.970 0.808 0.184 1.816
10 0.308 0.975 0.284 1.716 0.9727 3.078 0.797 0.223 1.777
15 0.223 0.789 0.428 1.572 0.9823 3.472 0.756 0.347 1.653
20 0.180 0.680 0.510 1.490 0.9869 3.735 0.729 0.415 1.585
25 0.153 0.606 0.565 1.435 0.9896 3.931 0.708 0.459 1.541
"""


@pytest.mark.parametrize("line", PRINTED.strip().splitlines(), ids=lambda line: line.split()[0])
def test_constants_as_printed(line: str) -> None:
    size, *printed = line.split()
    found = chart_constants(int(size))
    names = ("A2", "A3", "B3", "B4", "c4", "d2", "d3", "D3", "D4")
    for name, text in zip(names, printed, strict=True):
        last = 10.0 ** -len(text.partition(".")[2]) if "." in text else 1e-9
        assert getattr(found, name) == pytest.approx(float(text), abs=1.001 * last), name


def test_individuals_of_the_handbook() -> None:
    """6.3.2.2: mean 50.81, mean moving range 1.8778, limits 45.8159 and 55.8041 with d2 = 1.128."""
    flow = VALUES[10:]
    reference = moving_range_reference(flow)
    assert reference.centre == pytest.approx(50.81, abs=1e-9)
    assert reference.sigma * chart_constants(2).d2 == pytest.approx(1.8778, abs=5e-5)
    singles, ranges = individuals_charts(flow, reference)
    assert singles.upper[0] == pytest.approx(55.8041, abs=0.002)  # the exact d2 moves the third
    assert singles.lower[0] == pytest.approx(45.8159, abs=0.002)
    assert singles.outside == ranges.outside == ()
    assert reference.provisional


def test_moving_average_of_the_handbook() -> None:
    """6.3.2.4: lambda 0.3, target 50, s 2.0539; averages and steady limits as printed."""
    chart = ewma_chart(VALUES, stated_reference(50.0, 2.0539), weight=0.3, width=3.0)
    printed = (
        "50.60 49.52 50.56 50.18 50.16 49.21 49.75 49.85 50.26 50.33"
        " 50.11 49.36 49.52 50.05 49.38 49.92 50.73 51.23 51.94 51.99"
    )
    assert chart.points == pytest.approx([float(one) for one in printed.split()], abs=0.00501)
    assert chart.upper[-1] == pytest.approx(52.5884, abs=0.0001)
    assert chart.lower[-1] == pytest.approx(47.4115, abs=0.0001)
    assert chart.outside == ()


def test_sums_of_the_handbook() -> None:
    """6.3.2.3: sums as printed; the first signal is at the 14th group."""
    text = (
        "324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600"
        " 324.625 325.150 328.325 327.250 327.825 328.500 326.675 327.775 326.875 328.350"
    )
    values = [float(one) for one in text.split()]
    reference = stated_reference(325.0, 0.635)
    chart = cusum_chart(values, reference, allowance=0.5, threshold=4.1959 / 0.635)
    high = [0, 0, 0, 0, 0.0325, 0, 0, 0, 0, 0, 0, 0]
    high += [3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
    low = [0, 0.0075, 0, 0.3325, 0, 0, 0.5575, 0.715, 0.1725, 0.255, 0.3125]
    assert chart.high == pytest.approx(high, abs=5e-5)
    assert chart.low[:11] == pytest.approx(low, abs=5e-5)
    assert chart.outside[0] == 13
    (passing,) = chart.passings
    assert (passing.side, passing.began, passing.told) == ("above", 12, 13)


@pytest.mark.parametrize(
    ("members", "printed"),
    # Champ and Woodall 1987, Table 1, no shift (from memory, 91.75 confirmed).
    [
        ("1", 370.40),
        ("12", 225.44),
        ("13", 166.05),
        ("14", 152.73),
        ("123", 132.89),
        ("1234", 91.75),
    ],
)
def test_run_rules(members: str, printed: float) -> None:
    rules = rules_by_name([f"western-electric-{one}" for one in members])
    assert rules_run_length(rules).average == pytest.approx(printed, abs=0.005)


def test_run_rules_under_a_shift() -> None:
    """Champ and Woodall 1987, all four rules, shift of one and two sigma (from memory)."""
    rules = RULE_SETS["western-electric"]
    assert rules_run_length(rules, shift=1.0).average == pytest.approx(9.22, abs=0.005)
    assert rules_run_length(rules, shift=2.0).average == pytest.approx(3.13, abs=0.005)
    assert NINE_ONE_SIDE not in rules


def as_printed(text: str) -> tuple[list[float], list[float]]:
    """Numbers, and one unit of their last place: the papers' chains are coarser than integrals."""
    words = text.split()
    units = [10.0 ** -len(one.partition(".")[2]) for one in words]
    return [float(one) for one in words], units


@pytest.mark.parametrize(
    ("weight", "width", "printed"),
    # Lucas and Saccucci 1990, Table 3 (from memory): shifts 0, 0.5, 1, 2.
    [(0.10, 2.814, "500 31.3 10.3 4.36"), (0.25, 2.998, "500 48.2 11.1 3.62")],
)
def test_moving_average_run_length(weight: float, width: float, printed: str) -> None:
    for shift, length, unit in zip((0.0, 0.5, 1.0, 2.0), *as_printed(printed), strict=True):
        found = ewma_run_length(weight=weight, width=width, shift=shift).average
        assert found == pytest.approx(length, abs=unit)


@pytest.mark.parametrize(
    ("threshold", "printed"),
    # Lucas and Crosier 1982, k = 0.5 (from memory): shifts 0, 0.5, 1, 2.
    [(4.0, "168 26.6 8.38 3.34"), (5.0, "465 38.0 10.4 4.01")],
)
def test_sums_run_length(threshold: float, printed: str) -> None:
    for shift, length, unit in zip((0.0, 0.5, 1.0, 2.0), *as_printed(printed), strict=True):
        found = cusum_run_length(allowance=0.5, threshold=threshold, shift=shift).average
        assert found == pytest.approx(length, abs=unit)
