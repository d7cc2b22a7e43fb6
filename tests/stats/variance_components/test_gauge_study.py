"""Gauge studies: uneven numbers, one operator, tolerance, what is refused."""

from __future__ import annotations

import math

import numpy as np
import pandas
import pytest
import statsmodels.formula.api as smf
from scipy.stats import binom
from statsmodels.stats.anova import anova_lm

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.gauge_study import gauge_study
from filmstress.stats.variance_components.nested import nested_anova
from filmstress.stats.variance_components.records import Method
from tests.benchmarks.process_statistics import study


def drawn(repeats: int = 3):
    random = np.random.default_rng(9)
    part = np.repeat(np.arange(6), 4 * repeats)
    operator = np.tile(np.repeat(np.arange(4), repeats), 6)
    y = 5.0 * random.standard_normal(6)[part] + 2.0 * random.standard_normal(4)[operator]
    y = y + 1.5 * random.standard_normal((6, 4))[part, operator]
    return y + random.standard_normal(len(y)), part.tolist(), operator.tolist()


def test_table_equals_statsmodels() -> None:
    y, part, operator = drawn()
    frame = pandas.DataFrame({"y": y, "a": part, "b": operator})
    known = anova_lm(smf.ols("y ~ C(a) * C(b)", frame).fit())
    found = gauge_study(y, part, operator)
    assert not found.pooled
    squares = [one.sum_of_squares for one in found.table]
    assert squares == pytest.approx(known["sum_sq"].tolist(), rel=1e-9)
    assert found.interaction_p == pytest.approx(known["PR(>F)"]["C(a):C(b)"], rel=1e-6)


def test_order_does_not_matter() -> None:
    y, part, operator = drawn()
    mixed = np.random.default_rng(1).permutation(len(y))
    other = gauge_study(y[mixed], [part[i] for i in mixed], [operator[i] for i in mixed])
    assert other.gauge.variance == pytest.approx(gauge_study(y, part, operator).gauge.variance)


def test_likelihood_agrees_where_numbers_are_nearly_even() -> None:
    """Without one of 72 values: components within a tenth of those of the whole table."""
    y, part, operator = drawn()
    whole = gauge_study(y, part, operator)
    found = gauge_study(y[1:], part[1:], operator[1:])
    assert (whole.method, found.method) == (Method.ANOVA, Method.REML)
    for name in ("repeatability", "reproducibility", "interaction", "gauge", "part", "total"):
        assert getattr(found, name).sd == pytest.approx(getattr(whole, name).sd, rel=0.1)
    assert found.of_total.low < found.of_total.value < found.of_total.high


def test_one_operator_is_a_nested_study() -> None:
    y, part, _ = drawn()
    found = gauge_study(y, part)
    nested = nested_anova(y, {"part": part})
    assert found.reproducibility is None
    assert found.gauge.variance == pytest.approx(nested.components[1].variance)
    assert found.part.variance == pytest.approx(nested.components[0].variance)


def test_part_of_the_tolerance() -> None:
    y, part, operator = drawn()
    found = gauge_study(y, part, operator)
    used = found.of_tolerance(60.0)
    assert used.value == pytest.approx(10.0 * found.gauge.sd)
    assert used.high == pytest.approx(10.0 * math.sqrt(found.gauge.high))
    with pytest.raises(UsageError, match="a width above 0 is wanted"):
        found.of_tolerance(-60.0)


def test_a_gauge_that_tells_nothing_apart_has_one_category() -> None:
    noise = np.random.default_rng(2).standard_normal(30)
    assert gauge_study(noise, [i // 3 for i in range(30)]).categories == 1


def test_what_cannot_be_studied() -> None:
    with pytest.raises(RefusedInput, match="2 parts by 2 operators with 0 to 2 repeats"):
        gauge_study([1.0, 2, 3, 4, 5], [1, 1, 2, 2, 2], ["A", "A", "A", "A", "B"])
    with pytest.raises(RefusedInput, match="repeats of a part never differ"):
        gauge_study([1.0, 1.0, 2.0, 2.0], [1, 1, 2, 2])


def test_coverage() -> None:
    """200 runs; an interval of 94 to 97 % fails here with a probability below 1e-4."""
    held = study("gauge share of total", 200, 14).coverage * 200
    assert binom.ppf(5e-5, 200, 0.94) <= held <= binom.ppf(1.0 - 5e-5, 200, 0.97)


def test_loadings_stand_within_parts_whatever_they_are_called() -> None:
    random = np.random.default_rng(6)
    y = 4.0 * random.standard_normal((5, 1, 1)) + random.standard_normal((5, 2, 1))
    y = (y + random.standard_normal((5, 2, 3))).ravel()
    part, loading = np.repeat(np.arange(5), 6), np.tile(np.repeat([0, 1], 3), 5)
    parts, names = part.tolist(), (10 * part + loading).tolist()
    found = gauge_study(y, parts, loading.tolist(), within=True)
    assert found == gauge_study(y, parts, names, within=True)
    # Mean squares by statsmodels; expected ones 3 s_l^2 + s^2 and 6 s_p^2 + 3 s_l^2 + s^2.
    frame = pandas.DataFrame({"y": y, "part": parts, "loading": names})
    whole = anova_lm(smf.ols("y ~ C(loading)", frame).fit())
    outer = anova_lm(smf.ols("y ~ C(part)", frame).fit())
    of_part = outer.loc["C(part)", "mean_sq"]
    of_loading = (whole.loc["C(loading)", "sum_sq"] - outer.loc["C(part)", "sum_sq"]) / 5.0
    rest = whole.loc["Residual", "mean_sq"]
    assert found.repeatability.variance == pytest.approx(rest)
    assert found.reproducibility is not None
    assert found.reproducibility.variance == pytest.approx((of_loading - rest) / 3.0)
    assert found.part.variance == pytest.approx((of_part - of_loading) / 6.0)
