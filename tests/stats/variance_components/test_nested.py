"""Nested components against statsmodels, expected mean squares against brute force, coverage."""

from __future__ import annotations

import numpy as np
import pandas
import pytest
import statsmodels.formula.api as smf
from scipy.stats import binom, chi2

from filmstress.errors import RefusedInput
from filmstress.stats.variance_components.likelihood import reml_fit, reml_nested
from filmstress.stats.variance_components.mean_squares import interval, satterthwaite
from filmstress.stats.variance_components.nested import nested_anova
from filmstress.stats.variance_components.records import MeanSquare
from tests.benchmarks.process_statistics import study


def uneven(seed: int = 3):
    """Eight lots of one to four wafers, two to four sites on each."""
    random = np.random.default_rng(seed)
    lot, wafer, y = [], [], []
    for one in range(8):
        of_lot = 6.0 * random.standard_normal()
        for w in range(1 + one % 4):
            of_wafer = of_lot + 3.0 * random.standard_normal()
            for _ in range(2 + (one + w) % 3):
                lot.append(one)
                wafer.append(w)
                y.append(100.0 + of_wafer + 2.0 * random.standard_normal())
    return np.array(y), {"lot": lot, "wafer": wafer}


def test_uneven_numbers_equal_statsmodels() -> None:
    """MixedLM, restricted likelihood; its optimiser's own tolerance sets ours."""
    y, levels = uneven()
    frame = pandas.DataFrame({"y": y, **levels})
    known = smf.mixedlm(
        "y ~ 1", frame, groups="lot", re_formula="1", vc_formula={"wafer": "0 + C(wafer)"}
    ).fit(reml=True, method=["lbfgs"])
    found = reml_nested(y, levels)
    variances = [one.variance for one in found.components]
    expected = [known.cov_re.iloc[0, 0], known.vcomp[0], known.scale]
    assert variances == pytest.approx(expected, rel=2e-3)
    assert found.mean == pytest.approx(known.fe_params.iloc[0], rel=1e-6)
    assert found.mean_u == pytest.approx(known.bse_fe.iloc[0], rel=1e-3)
    assert not found.balanced


@pytest.mark.parametrize("y", [[1.0, 2.0, 1.0, 2.0], [1.0, 2.0, 2.0, 1.0]])
def test_groups_of_the_same_mean(y: list[float]) -> None:
    """By hand: nothing between, 1/2 within; the mean's variance is between over n, which is 0."""
    found = nested_anova(np.array(y), {"wafer": [1, 1, 2, 2]})
    between, within = (row.mean_square for row in found.table)
    assert (between, within) == pytest.approx((0.0, 0.5))
    # The estimate between, (0 - 1/2) / 2, is below 0 and taken as 0.
    assert [one.variance for one in found.components] == pytest.approx([0.0, 0.5])
    assert (found.mean, found.mean_u) == (1.5, 0.0)


def test_expected_mean_squares_by_brute_force() -> None:
    """Trace of (projection x covariance of each component), with matrices, uneven numbers."""
    y, levels = uneven()
    table = nested_anova(y, levels).table
    names = [tuple(zip(*list(levels.values())[:k], strict=True)) for k in (1, 2)]
    indicator = [np.ones((len(y), 1))]
    for labels in names:
        places = list(dict.fromkeys(labels))
        indicator.append(np.array([[one == place for place in places] for one in labels], float))
    indicator.append(np.eye(len(y)))
    onto = [z @ np.linalg.pinv(z) for z in indicator]
    for i, row in enumerate(table):
        step = onto[i + 1] - onto[i]
        assert row.sum_of_squares == pytest.approx(y @ step @ y, rel=1e-9)
        expected = [np.trace(z.T @ step @ z) / row.dof for z in indicator[1:]]
        assert row.expected == pytest.approx(expected, abs=1e-9)


def test_a_negative_component_is_zero_and_said() -> None:
    """Lot means closer together than their wafers allow."""
    y = [0.0, 9.0, 7.0, 1.0, 4.0, 9.0, 8.0, 0.0]
    levels = {"lot": [1, 1, 2, 2, 3, 3, 4, 4]}
    by_squares, by_likelihood = nested_anova(y, levels), reml_nested(y, levels)
    for found in (by_squares, by_likelihood):
        lot = found.components[0]
        assert (lot.variance, lot.low) == (0.0, 0.0)
        assert lot.high > 0.0
        assert found.share("lot") == 0.0
    assert by_squares.components[0].negative
    # With the lots out of the way the residual is the plain variance.
    assert by_likelihood.components[1].variance == pytest.approx(np.var(y, ddof=1), rel=1e-6)


def test_likelihood_is_at_its_top() -> None:
    """No neighbour within 10 % has a greater restricted likelihood (dense formula, by hand)."""
    y, levels = uneven()
    codes = [
        np.unique([f"{a}" for a in levels["lot"]], return_inverse=True)[1],
        np.unique([f"{a}-{b}" for a, b in zip(*levels.values(), strict=True)], return_inverse=True)[
            1
        ],
    ]
    ones = np.ones((len(y), 1))

    def value(variances: np.ndarray) -> float:
        v = variances[2] * np.eye(len(y))
        v += sum(s * (c[:, None] == c) for s, c in zip(variances[:2], codes, strict=True))
        inverse = np.linalg.inv(v)
        normal = ones.T @ inverse @ ones
        rest = y - float((ones.T @ inverse @ y)[0] / normal[0, 0])
        logs = np.linalg.slogdet(v)[1] + np.log(normal[0, 0])
        return -0.5 * float(logs + rest @ inverse @ rest)

    best = reml_fit(y, ones, codes).variances
    for factors in np.array(np.meshgrid(*[[0.9, 1.0, 1.1]] * 3)).reshape(3, -1).T:
        assert value(best * factors) <= value(best) + 1e-9


def test_interval_of_one_mean_square_is_chi_square() -> None:
    """Equal to the exact one, but for the half per cent that 2^15 points leave."""
    row = MeanSquare("repeat", 30.0, 6, (1.0,))
    low, high = interval([row], lambda draws: draws[0], p=0.95)
    assert low == pytest.approx(30.0 / chi2.ppf(0.975, 6), rel=0.005)
    assert high == pytest.approx(30.0 / chi2.ppf(0.025, 6), rel=0.005)


def test_satterthwaite() -> None:
    """Equal parts of equal freedom add their freedom; a sum below 0 has none."""
    assert satterthwaite([(2.0, 5.0), (2.0, 5.0)]) == pytest.approx(10.0)
    assert satterthwaite([(2.0, 5.0), (-3.0, 5.0)]) == 0.0


def test_what_cannot_be_told_apart_is_refused() -> None:
    with pytest.raises(RefusedInput, match="at the level 'repeat'"):
        nested_anova([1.0, 2.0, 3.0, 4.0], {"lot": [1, 1, 2, 2], "wafer": [1, 2, 1, 2]})
    with pytest.raises(RefusedInput, match="at the level 'lot'"):
        nested_anova([1.0, 2.0, 3.0], {"lot": [1, 1, 1]})
    with pytest.raises(RefusedInput, match="a level of a single group"):
        reml_nested([1.0, 2.0, 3.0], {"lot": [1, 1, 1]})
    for parting in (nested_anova, reml_nested):
        with pytest.raises(RefusedInput, match="do not scatter"):
            parting([1.0, 1.0, 1.0, 1.0], {"lot": [1, 1, 2, 2]})


def test_coverage() -> None:
    """200 runs; an interval of 93.5 to 96.5 % fails here with a probability below 1e-4."""
    held = study("variance of lots", 200, 13).coverage * 200
    assert binom.ppf(5e-5, 200, 0.935) <= held <= binom.ppf(1.0 - 5e-5, 200, 0.965)


def test_groups_of_one_mean_have_no_part() -> None:
    found = nested_anova([1.0, 2.0, 1.0, 2.0], {"wafer": ["A", "A", "B", "B"]})
    wafer, repeat = found.components
    assert (wafer.variance, wafer.raw_variance) == (0.0, pytest.approx(-0.25))
    assert repeat.variance == pytest.approx(0.5)
    assert found.mean_u == 0.0
