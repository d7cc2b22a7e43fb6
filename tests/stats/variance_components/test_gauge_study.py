"""Gauge studies: uneven numbers, one operator, tolerance, what is refused."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pandas
import pytest
import statsmodels.formula.api as smf
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, chi2
from statsmodels.stats.anova import anova_lm

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.gauge_study import gauge_study
from filmstress.stats.variance_components.likelihood import reml_nested
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


@pytest.mark.parametrize(
    ("values", "parts", "operators", "told"),
    [
        ([1.0, 2, 3], [1, 2, 3], None, "3 values of 3 parts came: nothing was repeated"),
        ([1.0, 2, 3, 4], [1, 1, 2, 2], ["A", "A", "B", "B"], "cannot be told from parts"),
        (
            [1.0, 2, 3, 4, 5],
            [1, 1, 2, 2, 3],
            ["A", "A", "A", "A", "B"],
            "each part was measured by one operator only",
        ),
        ([1.0, 2, 2, 3], [1, 1, 2, 2], ["A", "B", "A", "B"], "repeats of a part never differ"),
        ([1.0, 1.0, 2.0, 2.0], [1, 1, 2, 2], None, "repeats of a part never differ"),
        ([0.0] * 5, [1, 1, 2, 2, 2], ["A", "A", "A", "A", "B"], "never differ"),
    ],
)
def test_what_cannot_be_studied(
    values: list[float], parts: list[int], operators: list[str] | None, told: str
) -> None:
    with pytest.raises(RefusedInput, match=told):
        gauge_study(values, parts, operators)


def test_loadings_without_repeats_cannot_be_told_from_repeats() -> None:
    with pytest.raises(RefusedInput, match="nothing was measured twice under one operator"):
        gauge_study([1.0, 2, 3, 4.5], [1, 1, 2, 2], ["a", "b", "a", "b"], within=True)


def test_no_repeats_by_one_operator() -> None:
    """Two-way without repeats: statsmodels' table of the additive model."""
    y, part, operator = drawn(repeats=1)
    found = gauge_study(y, part, operator)
    frame = pandas.DataFrame({"y": y, "a": part, "b": operator})
    known = anova_lm(smf.ols("y ~ C(a) + C(b)", frame).fit())
    assert found.inseparable
    assert found.interaction_p is None
    squares = [one.sum_of_squares for one in found.table]
    assert squares == pytest.approx(known["sum_sq"].tolist(), rel=1e-9)
    assert found.repeatability.variance == pytest.approx(known.loc["Residual", "mean_sq"])


def test_one_part_is_told_from_its_repeats_alone() -> None:
    y = np.array([1.0, 1.2, 0.9, 1.4, 1.1])
    found = gauge_study(y, [1] * 5)
    low, high = (float(((y - y.mean()) ** 2).sum()) / chi2.ppf(q, 4) for q in (0.975, 0.025))
    assert (found.part, found.of_total, found.categories) == (None, None, None)
    assert found.gauge.variance == pytest.approx(y.var(ddof=1))
    assert (found.gauge.low, found.gauge.high) == pytest.approx((low, high), rel=5e-3)


def uneven(name: str) -> tuple[np.ndarray, list[int], list[int]]:
    y, part, operator = drawn()
    leave = {"some": (0, 1, 2, 7, 30), "a cell and more": (0, 1, 2, 3, 4, 5, 40)}[name]
    kept = [i for i in range(len(y)) if i not in leave]
    return y[kept], [part[i] for i in kept], [operator[i] for i in kept]


def mixed(y: np.ndarray, terms: dict[str, list[int]]) -> dict[str, float]:
    """Variances of crossed random effects by statsmodels' REML."""
    frame = pandas.DataFrame({"y": y, "all": 1} | terms)
    parts = {name: f"0 + C({name})" for name in terms}
    model = smf.mixedlm("y ~ 1", frame, groups="all", vc_formula=parts, re_formula="0")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = model.fit(reml=True, method="lbfgs")
    return dict(zip(model.exog_vc.names, fit.vcomp, strict=True)) | {"rest": fit.scale}


@pytest.mark.parametrize("name", ["some", "a cell and more"])
def test_uneven_numbers_equal_statsmodels(name: str) -> None:
    y, part, operator = uneven(name)
    cell = [10 * a + b for a, b in zip(part, operator, strict=True)]
    found = gauge_study(y, part, operator)
    known = mixed(y, {"a": part, "b": operator, "c": cell})
    assert found.method is Method.REML
    assert not found.pooled
    assert found.reproducibility is not None
    assert found.interaction is not None
    assert found.part is not None
    got = (found.part, found.reproducibility, found.interaction, found.repeatability)
    wanted = [known[key] for key in ("a", "b", "c", "rest")]
    assert [one.variance for one in got] == pytest.approx(wanted, rel=2e-3)
    assert found.gauge.variance == pytest.approx(sum(wanted[1:]), rel=2e-3)


def test_uneven_loadings_equal_restricted_likelihood_of_nested_data() -> None:
    y, part, operator = uneven("some")
    found = gauge_study(y, part, operator, within=True)
    nested = reml_nested(y, {"part": part, "operator": operator})
    assert found.method is Method.REML
    assert found.part is not None
    assert found.reproducibility is not None
    got = [found.part, found.reproducibility, found.repeatability]
    assert [one.variance for one in got] == pytest.approx(
        [one.variance for one in nested.components], rel=1e-6
    )


def test_the_interval_of_uneven_repeatability_is_the_chi_square_one() -> None:
    """Repeats within cells are exact whatever the numbers: SS / chi-square of n - cells."""
    y, part, operator = uneven("a cell and more")
    frame = pandas.DataFrame({"y": y, "a": part, "b": operator})
    rest = frame.groupby(["a", "b"])["y"]
    squares, dof = float((rest.var() * (rest.count() - 1)).sum()), len(y) - rest.ngroups
    wanted = [squares / chi2.ppf(q, dof) for q in (0.975, 0.025)]
    found = gauge_study(y, part, operator).repeatability
    assert [found.low, found.high] == pytest.approx(wanted, rel=5e-3)


def test_parts_far_apart_leave_the_repeats_their_digits() -> None:
    """Moving parts apart by 10^6 repeats changes what is left within them by nothing."""
    y, part, operator = uneven("some")
    near = gauge_study(y + 300.0 * np.array(part), part, operator)
    far = gauge_study(y + 1e6 * np.array(part), part, operator)
    for name in ("repeatability", "reproducibility", "interaction", "gauge"):
        one, other = getattr(near, name), getattr(far, name)
        assert other.variance == pytest.approx(one.variance, rel=1e-3)
        assert other.dof == pytest.approx(one.dof, rel=1e-2)
    alone = gauge_study(y + 1e6 * np.array(part), part)
    frame = pandas.DataFrame({"y": y, "a": part}).groupby("a")["y"]
    rest = (frame.var() * (frame.count() - 1)).sum() / (len(y) - 6)
    assert alone.repeatability.variance == pytest.approx(rest)


@pytest.mark.slow
def test_uneven_coverage() -> None:
    """60 studies of 6 parts, 3 operators, 2 repeats, a fifth missing.

    An interval of 93 to 97 % fails one of the two with a probability below 1e-3.
    """
    random = np.random.default_rng(77)
    held = {"repeatability": 0, "gauge": 0}
    true = {"repeatability": 0.04, "gauge": 0.04 + 0.09 + 0.04}
    part, operator = np.repeat(np.arange(6), 6), np.tile(np.repeat(np.arange(3), 2), 6)
    kept = random.permutation(36)[7:]
    for _ in range(60):
        y = random.standard_normal(6)[part] + 0.3 * random.standard_normal(3)[operator]
        y += 0.2 * random.standard_normal((6, 3))[part, operator]
        y += 0.2 * random.standard_normal(36)
        found = gauge_study(y[kept], part[kept].tolist(), operator[kept].tolist())
        for name, variance in true.items():
            one = getattr(found, name)
            held[name] += one.low <= variance <= one.high
    assert min(held.values()) >= binom.ppf(2.5e-4, 60, 0.93)


@given(data=st.data())
@settings(max_examples=25, deadline=None)
def test_any_pattern_is_studied_or_refused(data: st.DataObject) -> None:
    size = data.draw(st.integers(2, 14))
    parts, operators = (
        data.draw(st.lists(st.integers(0, most), min_size=size, max_size=size)) for most in (3, 2)
    )
    values = data.draw(st.lists(st.integers(-9, 9), min_size=size, max_size=size))
    try:
        found = gauge_study(
            [1e-6 * one for one in values], parts, operators, within=data.draw(st.booleans())
        )
    except RefusedInput:
        return
    for one in (found.repeatability, found.gauge, found.total, found.part, found.reproducibility):
        if one is not None:
            assert 0.0 <= one.low <= one.variance * (1.0 + 1e-9)
            assert one.variance <= one.high * (1.0 + 1e-9)


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
