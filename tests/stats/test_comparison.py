"""Comparisons against scipy, statsmodels and GTC, and what sharing must do."""

from __future__ import annotations

import math

import GTC
import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom
from statsmodels.stats.weightstats import ttost_ind

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.budget import Term
from filmstress.stats.comparison import Verdict, difference, equivalence, ratio, spread_ratio
from filmstress.stats.fieller import SetKind, ratio_set
from filmstress.stats.groups import group, lot_means
from filmstress.stats.multiple_comparison import all_pairs
from tests.benchmarks.process_statistics import study

A = [-182, -176, -189, -171, -180, -185, -178, -183]
B = [-165, -171, -158, -149, -176, -162, -155, -168, -160, -152]
C = [-178, -181, -175, -184, -179, -182, -176, -180]

rows = st.lists(st.floats(-100.0, 100.0), min_size=2, max_size=12).filter(
    lambda row: max(row) - min(row) > 1e-2
)


@given(rows, rows)
def test_difference_equals_scipy(a: list[float], b: list[float]) -> None:
    for equal in (False, True):
        found = difference(group("a", a), group("b", b), equal_spread=equal)
        known = scipy.stats.ttest_ind(a, b, equal_var=equal)
        low, high = known.confidence_interval(0.95)
        assert (found.low, found.high) == pytest.approx((low, high), rel=1e-7, abs=1e-7)
        assert found.dof == pytest.approx(known.df, rel=1e-9)
        assert found.p_value == pytest.approx(known.pvalue, rel=1e-6, abs=1e-12)


def test_equivalence_equals_statsmodels() -> None:
    found = equivalence(difference(group("A", A), group("C", C)), margin=8.0)
    _, low, high = ttost_ind(np.array(A), np.array(C), -8.0, 8.0, usevar="unequal")
    assert found.p_low == pytest.approx(low[1], rel=1e-9)
    assert found.p_high == pytest.approx(high[1], rel=1e-9)
    assert found.verdict is Verdict.EQUIVALENT
    assert found.smallest_margin == pytest.approx(-found.low)


def test_not_different_is_not_equivalent() -> None:
    few = difference(group("a", [0.0, 9.0]), group("b", [5.0, -3.0]))
    assert few.holds_zero
    assert equivalence(few, margin=2.0).verdict is Verdict.UNDECIDED
    far = difference(group("A", A), group("B", B))
    assert equivalence(far, margin=5.0).verdict is Verdict.NOT_EQUIVALENT


def modulus(values: list[float], u: float, common_to: str = "table") -> list[list[Term]]:
    """A relative uncertainty common to all values."""
    one = {"input": "modulus", "value": 1.0, "unit": "1", "u": u, "common_to": common_to}
    return [[Term(**one, sensitivity=value)] for value in values]


def test_a_common_factor_counts_for_the_difference_only() -> None:
    """u^2 = scatter + (difference u_K)^2, against GTC with one shared factor."""
    first, second = group("A", A, modulus(A, 0.02)), group("B", B, modulus(B, 0.02))
    found = difference(first, second)
    factor = GTC.ureal(1.0, 0.02)
    means = [
        GTC.ureal(np.mean(x), np.std(x, ddof=1) / math.sqrt(len(x)), len(x) - 1) for x in (A, B)
    ]
    known = factor * means[0] - factor * means[1]
    assert found.u == pytest.approx(known.u, rel=1e-12)
    assert found.dof == pytest.approx(known.df, rel=1e-9)
    assert found.shared_before == pytest.approx(math.hypot(0.02 * np.mean(A), 0.02 * np.mean(B)))


def test_a_factor_of_its_own_for_each_group_does_not_cancel() -> None:
    first = group("A", A, modulus(A, 0.02, "table Si"))
    second = group("B", B, modulus(B, 0.02, "table Ge"))
    scatter = difference(group("A", A), group("B", B)).u
    found = difference(first, second)
    assert found.u == pytest.approx(math.hypot(scatter, found.shared_before), rel=1e-12)


def test_a_ratio_loses_a_common_factor() -> None:
    plain = ratio(group("A", A), group("B", B))
    shared = ratio(group("A", A, modulus(A, 0.1)), group("B", B, modulus(B, 0.1)))
    assert shared.u == pytest.approx(plain.u, rel=1e-9)
    assert shared.set.low == pytest.approx(plain.set.low, rel=2e-3)
    assert shared.set.high == pytest.approx(plain.set.high, rel=2e-3)


def test_a_ratio_to_what_may_be_zero_has_no_interval() -> None:
    found = ratio(group("A", A), group("small", [-1.0, 3.0, 0.5, -1.5]))
    assert found.set.kind is SetKind.OUTSIDE
    both = ratio(group("small", [-1.0, 3.0, 0.5, -1.5]), group("other", [2.0, -1.0, 1.0, -1.0]))
    assert both.set.kind is SetKind.EVERYTHING


@given(
    over=st.floats(-10, 10),
    under=st.floats(-10, 10).filter(lambda x: abs(x) > 1e-3),
    u=st.tuples(st.floats(0.01, 5), st.floats(0.01, 5)),
    r=st.floats(-0.95, 0.95),
    probe=st.floats(-20, 20),
)
def test_fieller_set_is_what_it_says(over, under, u, r, probe) -> None:
    """A ratio belongs to the set where over - ratio * under is within k u of 0."""
    covariance = r * u[0] * u[1]
    found = ratio_set(
        over, under, over_variance=u[0] ** 2, under_variance=u[1] ** 2, covariance=covariance, k=2.0
    )
    variance = u[0] ** 2 - 2.0 * probe * covariance + (probe * u[1]) ** 2
    margin = abs(over - probe * under) / math.sqrt(variance) - 2.0
    if abs(margin) > 1e-6:
        assert found.holds(probe) == (margin < 0.0)
    assert found.holds(over / under)


def test_spreads() -> None:
    """Interval and test by the F distribution; a level and its interval agree."""
    found = spread_ratio(group("A", A), group("B", B))
    f = (np.std(A, ddof=1) / np.std(B, ddof=1)) ** 2
    law = scipy.stats.f(7, 9)
    assert found.value == pytest.approx(math.sqrt(f))
    assert found.low == pytest.approx(math.sqrt(f / law.ppf(0.975)))
    assert found.high == pytest.approx(math.sqrt(f / law.ppf(0.025)))
    assert found.p_value == pytest.approx(2.0 * law.cdf(f))


def test_all_pairs_equal_scipy() -> None:
    """scipy.stats.tukey_hsd (Tukey-Kramer); Games-Howell from its printed formula."""
    groups = [group(name, row) for name, row in (("A", A), ("B", B), ("C", C))]
    found = all_pairs(groups, equal_spread=True)
    known = scipy.stats.tukey_hsd(A, B, C)
    interval = known.confidence_interval(0.95)
    places = [(0, 1), (0, 2), (1, 2)]
    for pair, place in zip(found.pairs, places, strict=True):
        assert pair.low == pytest.approx(interval.low[place], rel=1e-5)
        assert pair.high == pytest.approx(interval.high[place], rel=1e-5)
        assert pair.p_value == pytest.approx(known.pvalue[place], rel=1e-4, abs=1e-9)
    own = all_pairs(groups).pairs[0]
    welch = difference(groups[0], groups[1])
    q = scipy.stats.studentized_range.ppf(0.95, 3, welch.dof)
    assert own.high - own.value == pytest.approx(q / math.sqrt(2.0) * welch.u, rel=1e-6)


def test_shared_inputs_cancel_in_each_pair() -> None:
    plain = [group(name, row) for name, row in (("A", A), ("B", B), ("C", C))]
    offset = Term(input="offset", value=0.0, unit="", u=50.0, sensitivity=1.0, common_to="gauge")
    shared = [group(one.name, one.values, [[offset]] * len(one.values)) for one in plain]
    for equal in (False, True):
        pairs = zip(
            all_pairs(plain, equal_spread=equal).pairs,
            all_pairs(shared, equal_spread=equal).pairs,
            strict=True,
        )
        for one, other in pairs:
            assert other.low == pytest.approx(one.low, rel=1e-9)


def test_wafers_of_one_lot_do_not_make_a_group() -> None:
    means, lots = lot_means([1.0, 2.0, 5.0, 7.0], ["x", "x", "y", "y"])
    assert (means.tolist(), lots) == ([1.5, 6.0], ("x", "y"))
    with pytest.raises(RefusedInput, match="1 and 8 independent values came"):
        difference(group("one", means[:1]), group("A", A))
    pooled = difference(group("one", means[:1]), group("A", A), equal_spread=True)
    assert pooled.dof == 7
    with pytest.raises(UsageError, match="2 budgets came for 8 values"):
        group("A", A, [[], []])


@pytest.mark.parametrize(
    "case",
    [
        "difference, 4 and 6 lots",
        "difference, 10 and 12 lots, shared factor, offset, gauges",
        "ratio, 6 and 8 lots, shared factor",
    ],
)
def test_coverage(case: str) -> None:
    """300 runs; an interval of 94 to 96 % fails here with a probability below 1e-4."""
    held = study(case, 300, 11).coverage * 300
    assert binom.ppf(5e-5, 300, 0.94) <= held <= binom.ppf(1.0 - 5e-5, 300, 0.96)
