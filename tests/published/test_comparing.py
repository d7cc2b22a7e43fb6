"""Published comparisons: groups, lines, nested and crossed studies.

Marked [C] where the published digits were taken from print, otherwise computed independently with
the library named.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from filmstress.stats.comparison import Verdict, difference, equivalence
from filmstress.stats.crossing import crossing
from filmstress.stats.fieller import SetKind
from filmstress.stats.groups import group
from filmstress.stats.multiple_comparison import all_pairs
from filmstress.stats.straight_line import fit_line

DATA = Path(__file__).parent / "data"
A = np.array([-182, -176, -189, -171, -180, -185, -178, -183.0])
B = np.array([-165, -171, -158, -149, -176, -162, -155, -168, -160, -152.0])
C = np.array([-178, -181, -175, -184, -179, -182, -176, -180.0])


def oxide() -> np.ndarray:
    """Thickness of oxide on silicon: 8 lots, 3 wafers each, 3 sites each."""
    with (DATA / "oxide.csv").open(encoding="utf-8") as file:
        return np.array([float(row["Thickness"]) for row in csv.DictReader(file)]).reshape(8, 3, 3)


def test_welch_against_scipy() -> None:
    found = difference(group("A", A), group("B", B))
    other = stats.ttest_ind(A, B, equal_var=False)
    ends = other.confidence_interval(0.95)
    assert found.dof == pytest.approx(other.df, rel=1e-12)
    assert found.p_value == pytest.approx(other.pvalue, rel=1e-9)
    assert (found.low, found.high) == pytest.approx((ends.low, ends.high), rel=1e-9)


def test_pooled_against_scipy() -> None:
    found = difference(group("A", A), group("B", B), equal_spread=True)
    other = stats.ttest_ind(A, B)
    assert found.dof == other.df
    assert found.p_value == pytest.approx(other.pvalue, rel=1e-9)


def test_two_one_sided_tests_against_statsmodels() -> None:
    weightstats = pytest.importorskip("statsmodels.stats.weightstats")
    found = equivalence(difference(group("A", A), group("C", C)), margin=8.0)
    _, low, high = weightstats.ttost_ind(A, C, -8.0, 8.0, usevar="unequal")
    assert (found.p_low, found.p_high) == pytest.approx((low[1], high[1]), rel=1e-9)
    assert found.verdict is Verdict.EQUIVALENT


def test_tukey_against_scipy() -> None:
    found = all_pairs(
        [group(n, v) for n, v in zip("ABC", (A, B, C), strict=True)], equal_spread=True
    )
    other = stats.tukey_hsd(A, B, C)
    ends = other.confidence_interval(0.95)
    for pair in found.pairs:
        i, j = "ABC".index(pair.first), "ABC".index(pair.second)
        assert pair.p_value == pytest.approx(other.pvalue[i, j], rel=1e-4, abs=1e-9)
        assert (pair.low, pair.high) == pytest.approx((ends.low[i, j], ends.high[i, j]), rel=1e-5)


def test_reaction_chamber() -> None:
    """F. A. Graybill and H. K. Iyer (1994), p. 433 [C]: 66.5 [65.07, 68.03] at 99 %."""
    heat = [206.36, 225.52, 252.18, 289.33, 318.11, 349.49, 383.03, 410.70, 444.40, 469.14, 501.16]
    found = crossing(fit_line(np.arange(0, 101, 10), heat), 400.0, p=0.99)
    assert found.x == pytest.approx(66.5, abs=0.05)
    assert (found.set.low, found.set.high) == pytest.approx((65.07, 68.03), abs=0.005)


def test_a_slope_that_is_not_resolved_has_no_interval() -> None:
    found = crossing(fit_line([1, 2, 3, 4], [10.0, -9.0, 11.0, -8.0]), 50.0)
    assert found.set.kind is not SetKind.INTERVAL


def test_recipes_are_tested_against_lots() -> None:
    """The oxide's two sources: F(1, 6) = 1.526, p = 0.26287 [C]."""
    lots = oxide().mean(axis=(1, 2))
    found = difference(group("1", lots[:4]), group("2", lots[4:]), equal_spread=True)
    assert found.dof == 6.0
    assert (found.value / found.u) ** 2 == pytest.approx(1.526, abs=0.0005)
    assert found.p_value == pytest.approx(0.26287, abs=5e-6)
