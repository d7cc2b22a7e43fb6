"""Straight lines against statsmodels and scipy; crossings, shared inputs, checks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, chi2, linregress
from scipy.stats import t as student
from statsmodels.stats.anova import anova_lm

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.budget import Term
from filmstress.stats.crossing import crossing
from filmstress.stats.fieller import SetKind
from filmstress.stats.line_checks import check_line
from filmstress.stats.straight_line import Scatter, fit_line
from tests.benchmarks.process_statistics import study

X = np.array([0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2])
Y = np.array([-612.0, -428.0, -301.0, -95.0, 18.0, 142.0, 251.0, 420.0])


def shared(name: str, u: float, sensitivities, common_to: str = "gauge") -> list[list[Term]]:
    one = {"input": name, "value": 0.0, "unit": "", "u": u, "common_to": common_to}
    return [[Term(**one, sensitivity=float(c))] for c in sensitivities]


def test_plain_line_equals_scipy() -> None:
    line, known = fit_line(X, Y), linregress(X, Y)
    assert line.slope == pytest.approx(known.slope, rel=1e-12)
    assert line.intercept == pytest.approx(known.intercept, rel=1e-12)
    assert line.slope_u == pytest.approx(known.stderr, rel=1e-10)
    assert line.budget(1.0, -line.centre).u == pytest.approx(known.intercept_stderr, rel=1e-10)
    assert line.dof == 6


def test_crossing_equals_the_textbook_formula() -> None:
    """x0 = mean + [D ± t s/|b| sqrt((1 - g)/n + D²/Sxx)] / (1 - g), g = t² s² / (b² Sxx)."""
    known = linregress(X, Y)
    t, n = 2.4469118511449692, 8  # t of 6 degrees of freedom at 97.5 %, as tabulated
    s = math.sqrt(np.sum((Y - known.intercept - known.slope * X) ** 2) / 6)
    sxx = float(np.sum((X - X.mean()) ** 2))
    g = (t * s / known.slope) ** 2 / sxx
    distance = -known.intercept / known.slope - X.mean()
    half = t * s / known.slope * math.sqrt((1.0 - g) / n + distance**2 / sxx)
    found = crossing(fit_line(X, Y))
    assert found.set.low == pytest.approx(X.mean() + (distance - half) / (1.0 - g), rel=1e-9)
    assert found.set.high == pytest.approx(X.mean() + (distance + half) / (1.0 - g), rel=1e-9)
    assert found.set.g == pytest.approx(g, rel=1e-9)


def test_weights_equal_statsmodels() -> None:
    u = np.array([10.0, 40, 20, 30, 10, 40, 20, 30])
    line = fit_line(X, Y, y_u=u, scatter=Scatter.STATED)
    known = sm.WLS(Y, sm.add_constant(X), weights=1.0 / u**2).fit()
    assert line.slope == pytest.approx(known.params[1], rel=1e-10)
    assert line.slope_u == pytest.approx(math.sqrt(known.normalized_cov_params[1, 1]), rel=1e-10)
    assert math.isinf(line.dof)


def test_scatter_beyond_what_is_stated() -> None:
    """The amount added brings the sum to n - 2; the weights are those of its upper 90 % bound."""
    u = np.array([5.0, 20, 10, 15, 5, 20, 10, 15])
    line = fit_line(X, Y, y_u=u)
    assert line.extra_scatter > 0.0
    estimate = 1.0 / (u**2 + line.extra_scatter**2)
    known = sm.WLS(Y, sm.add_constant(X), weights=estimate).fit()
    assert known.resid**2 @ estimate == pytest.approx(6.0, rel=1e-9)
    known = sm.WLS(Y, sm.add_constant(X), weights=line.weights).fit()
    assert line.slope == pytest.approx(known.params[1], rel=1e-10)
    assert line.slope_u == pytest.approx(known.bse[1], rel=1e-8)
    # 1 / weight = scale (u^2 + most), and the sum with u^2 + most is that of chi-square at 10 %.
    scale, added = np.polyfit(u**2, 1.0 / line.weights, 1)
    most = 1.0 / (u**2 + added / scale)
    assert line.residuals**2 @ most == pytest.approx(chi2.ppf(0.1, 6), rel=1e-6)


def test_stated_uncertainties_smaller_than_the_scatter_do_not_shrink_the_interval() -> None:
    plain, stated = crossing(fit_line(X, Y)), crossing(fit_line(X, Y, y_u=1.0))
    assert stated.set.low == pytest.approx(plain.set.low, rel=1e-9)


def test_a_common_factor_does_not_move_the_zero_crossing() -> None:
    plain = crossing(fit_line(X, Y))
    line = fit_line(X, Y)
    fitted = [line.value_at(x) for x in X]
    found = crossing(fit_line(X, Y, y_terms=shared("modulus", 0.1, fitted)))
    assert found.u == pytest.approx(plain.u, rel=1e-9)
    assert found.set.low == pytest.approx(plain.set.low, rel=2e-3)
    away = crossing(fit_line(X, Y, y_terms=shared("modulus", 0.1, fitted)), 200.0)
    assert away.u > crossing(line, 200.0).u


def test_a_common_offset_moves_the_crossing_by_its_share_of_the_slope() -> None:
    plain = crossing(fit_line(X, Y))
    of_y = crossing(fit_line(X, Y, y_terms=shared("bow", 30.0, np.ones(8))))
    slope = fit_line(X, Y).slope
    assert of_y.u == pytest.approx(math.hypot(plain.u, 30.0 / slope), rel=1e-9)
    of_x = crossing(fit_line(X, Y, x_terms=shared("pressure gauge", 0.02, np.ones(8))))
    assert of_x.u == pytest.approx(math.hypot(plain.u, 0.02), rel=1e-9)
    assert sum(row.share for row in of_x.budget.rows) == pytest.approx(1.0)


def test_terms_of_a_point_alone_weigh_it() -> None:
    terms = shared("fit", 1.0, [10.0, 40, 20, 30, 10, 40, 20, 30], common_to="")
    by_terms = fit_line(X, Y, y_terms=terms)
    by_u = fit_line(X, Y, y_u=[10.0, 40, 20, 30, 10, 40, 20, 30])
    assert by_terms.slope == by_u.slope
    assert by_terms.shared == ()


@pytest.mark.parametrize("dof", [math.inf, 3.0])
def test_each_end_has_the_factor_of_its_own_degrees_of_freedom(dof: float) -> None:
    terms = [[replace(one, dof=dof) for one in row] for row in shared("bow", 60.0, np.ones(8))]
    line = fit_line(X, Y, y_terms=terms)
    found = crossing(line)
    for end in (found.set.low, found.set.high):
        assert end is not None
        there = line.budget(1.0, end - line.centre)
        factor = student.ppf(0.975, there.dof)
        assert abs(line.value_at(end)) == pytest.approx(factor * there.u, rel=1e-9)
    assert there.dof != pytest.approx(found.dof, rel=1e-3)


@given(st.floats(0.0, 200.0), st.floats(0.2, 4.0), st.integers(0, 1000))
def test_a_setting_is_bounded_where_the_slope_is_resolved(offset, slope, seed) -> None:
    """Four points and an offset that all share: the slope has 2 degrees of freedom, not more."""
    x = np.array([1.0, 2.0, 3.0, 4.0])
    y = slope * x + np.random.default_rng(seed).normal(size=4)
    line = fit_line(x, y, y_terms=shared("bow", offset, np.ones(4)))
    resolved = abs(line.slope) > student.ppf(0.975, 2) * line.slope_u
    assert (crossing(line).set.kind is SetKind.INTERVAL) == resolved


def test_no_slope_no_interval() -> None:
    noise = np.array([1.0, -2.0, 1.5, -0.5, 0.7, -1.2, 0.4, 0.3])
    small = crossing(fit_line(X, 0.5 + noise))
    assert small.set.kind is SetKind.EVERYTHING
    far = crossing(fit_line(X, 20.0 + noise))
    assert far.set.kind is SetKind.OUTSIDE
    assert far.set.holds(far.x)
    assert not far.set.holds(0.8)
    assert far.extrapolated


def test_a_new_point_is_less_sure_than_the_mean() -> None:
    line = fit_line(X, Y)
    mean, single = crossing(line, 100.0), crossing(line, 100.0, new_points=1)
    assert single.u == pytest.approx(math.hypot(mean.u, line.residual_sd / line.slope), rel=1e-9)


@given(st.floats(-50, 50), st.floats(0.1, 10), st.floats(-100, 100), st.floats(0.1, 10))
def test_crossing_moves_with_the_units(shift, stretch, lift, gain) -> None:
    plain = crossing(fit_line(X, Y), 50.0)
    moved = crossing(fit_line(stretch * X + shift, gain * Y + lift), gain * 50.0 + lift)
    assert moved.set.low == pytest.approx(stretch * plain.set.low + shift, rel=1e-6, abs=1e-6)
    assert moved.u == pytest.approx(stretch * plain.u, rel=1e-6)


def test_checks_equal_statsmodels() -> None:
    x = np.repeat([1.0, 2.0, 3.0, 4.0], 3)
    y = np.array([1.0, 1.3, 0.8, 2.9, 3.2, 3.0, 3.9, 4.4, 4.0, 3.5, 3.9, 3.6])
    found = check_line(fit_line(x, y))
    straight = sm.OLS(y, sm.add_constant(x)).fit()
    means = sm.OLS(y, (x[:, None] == np.unique(x)).astype(float)).fit()
    assert found.lack_of_fit == pytest.approx(anova_lm(straight, means)["Pr(>F)"][1], rel=1e-9)
    bent = sm.OLS(y, np.vander(x, 3)).fit()
    assert found.bend == pytest.approx(bent.pvalues[0], rel=1e-9)
    assert check_line(fit_line([1.0, 2.0, 3.0], [1.0, 2.1, 2.9])).bend is None


def test_what_cannot_carry_a_line() -> None:
    with pytest.raises(RefusedInput, match="2 points at 2 places"):
        fit_line([1.0, 2.0], [1.0, 2.0])
    with pytest.raises(RefusedInput, match="3 points at 1 places"):
        fit_line([1.0, 1.0, 1.0], [1.0, 2.0, 3.0])
    with pytest.raises(RefusedInput, match="on a line exactly"):
        fit_line([1.0, 2.0, 3.0], [1.0, 2.0, 3.0])
    with pytest.raises(UsageError, match="without a stated uncertainty"):
        fit_line(X, Y, scatter=Scatter.STATED)


@pytest.mark.parametrize(
    "case",
    [
        "zero crossing",
        "zero crossing, shared factor, offset, gauges",
        "zero crossing, uncertainties 10 and 40",
    ],
)
def test_coverage(case: str) -> None:
    """300 runs; an interval of 94 to 96 % fails here with a probability below 1e-4."""
    held = study(case, 300, 12).coverage * 300
    assert binom.ppf(5e-5, 300, 0.94) <= held <= binom.ppf(1.0 - 5e-5, 300, 0.96)
