"""Polynomial least squares: what must hold for all data (certified data: tests/published)."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.least_squares import fit_polynomial


def noisy_parabola(n: int = 60) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    x = np.sort(rng.uniform(-1.0, 3.0, n))
    return x, 0.4 - 0.2 * x + 0.7 * x**2 + rng.normal(0.0, 0.1, n), rng.uniform(0.2, 5.0, n)


def test_weighted_fit_equals_statsmodels() -> None:
    """Coefficients, covariance and residual deviation against statsmodels WLS."""
    x, y, weights = noisy_parabola()
    fit = fit_polynomial(x, y, weights=weights)
    other = sm.WLS(y, np.vander(x, 3, increasing=True), weights=weights).fit()
    assert fit.coefficients == pytest.approx(other.params, rel=1e-10)
    assert fit.covariance == pytest.approx(other.cov_params(), rel=1e-9)
    assert fit.residual_sd**2 == pytest.approx(other.scale, rel=1e-12)
    assert fit.dof == other.df_resid
    assert fit.predict([0.3, 2.0]) == pytest.approx(
        other.predict(np.vander([0.3, 2.0], 3, increasing=True)), rel=1e-12
    )


def test_weights_count_by_their_ratios_only() -> None:
    x, y, weights = noisy_parabola()
    one, other = (fit_polynomial(x, y, weights=factor * weights) for factor in (1.0, 1e12))
    assert other.coefficients == pytest.approx(one.coefficients, rel=1e-12)
    assert other.covariance == pytest.approx(one.covariance, rel=1e-10)


def test_weight_zero_leaves_a_point_out() -> None:
    x, y, _ = noisy_parabola()
    weights = np.ones_like(x)
    weights[::7] = 0.0
    whole, part = (
        fit_polynomial(x, y, weights=weights),
        fit_polynomial(x[weights > 0], y[weights > 0]),
    )
    assert whole.coefficients == pytest.approx(part.coefficients, rel=1e-11)
    assert whole.standard_errors == pytest.approx(part.standard_errors, rel=1e-11)
    assert whole.dof == part.dof


@given(
    degree=st.integers(0, 5),
    centre=st.floats(-10.0, 10.0),
    width=st.floats(1e-3, 1e3),
    height=st.floats(1e-12, 1e6),
    seed=st.integers(0, 2**32 - 1),
)
def test_returns_the_polynomial_it_was_given(
    degree: int, centre: float, width: float, height: float, seed: int
) -> None:
    """Whatever the place, width and height, an exact polynomial comes back at its points."""
    rng = np.random.default_rng(seed)
    t = np.linspace(-1.0, 1.0, 31)
    y = height * np.polynomial.polynomial.polyval(t, rng.uniform(-1.0, 1.0, degree + 1))
    fit = fit_polynomial(centre + width * t, y, degree=degree)
    # The positions themselves are rounded to eps * centre, which tilts y by that over the width.
    rounding = 1e-15 * (1.0 + abs(centre) / width) * 100.0
    assert fit.predict(centre + width * t) == pytest.approx(y, abs=height * rounding)
    assert fit.residual_sd <= height * rounding


@given(shift=st.floats(-5.0, 5.0), stretch=st.floats(1e-3, 1e3), lift=st.floats(-1e3, 1e3))
def test_curvature_ignores_tilt_and_place(shift: float, stretch: float, lift: float) -> None:
    x, y, _ = noisy_parabola()
    plain = fit_polynomial(x, y)
    moved = fit_polynomial(stretch * (x + shift), y + lift * (1.0 + x))
    factor = stretch**-2
    # Absolute: what tilting by `lift` rounds away.
    assert moved.coefficients[2] == pytest.approx(
        factor * plain.coefficients[2], rel=1e-9, abs=1e-13 * abs(lift) * factor
    )
    assert moved.standard_errors[2] == pytest.approx(factor * plain.standard_errors[2], rel=1e-8)


def test_integers_are_read_as_floats() -> None:
    x = np.arange(6, dtype=np.int32)
    assert fit_polynomial(x, x**2 * 100).coefficients == pytest.approx([0, 0, 100], abs=1e-10)


def test_standard_errors_are_the_scatter_of_repeats() -> None:
    """68.27 % of independent repeats fall within one sigma, and 95 % within k sigma of t.

    2000 repeats: the binomial standard deviation is 0.0104 and 0.0049; four of them are allowed.
    """
    rng = np.random.default_rng(11)
    x = np.linspace(-1.0, 1.0, 9)
    truth = np.array([0.1, -0.3, 2.0])
    fits = [
        fit_polynomial(x, np.polynomial.polynomial.polyval(x, truth) + rng.normal(0, 0.1, 9))
        for _ in range(2000)
    ]
    off = np.array([(f.coefficients[2] - truth[2]) / f.standard_errors[2] for f in fits])
    # Student's t with 6 degrees of freedom: P(|T| < 1) = 0.64408, P(|T| < 2.447) = 0.95 (tables).
    assert np.mean(np.abs(off) < 1.0) == pytest.approx(0.6441, abs=4 * 0.0107)
    assert np.mean(np.abs(off) < 2.4469) == pytest.approx(0.95, abs=4 * 0.0049)


def test_correlation_matrix() -> None:
    x, y, _ = noisy_parabola()
    correlation = fit_polynomial(x, y).correlation
    assert np.diag(correlation) == pytest.approx(1.0)
    assert np.all(np.abs(correlation) <= 1.0 + 1e-12)
    assert fit_polynomial(x, 0.0 * x).correlation == pytest.approx(np.eye(3))


def test_refuses_what_cannot_carry_a_fit() -> None:
    with pytest.raises(RefusedInput, match=r"3 points cannot carry .* degree 2"):
        fit_polynomial([0, 1, 2], [0, 1, 4])
    with pytest.raises(RefusedInput, match="too few different positions"):
        fit_polynomial([0, 0, 1, 1, 0], [0, 1, 2, 3, 4])
    with pytest.raises(RefusedInput, match="too few different positions"):
        fit_polynomial([5, 5, 5, 5], [0, 1, 2, 3], degree=1)
    with pytest.raises(RefusedInput, match="points cannot carry"):
        fit_polynomial([0, 1, 2, 3], [0, 1, 4, 9], weights=[1, 1, 1, 0])


@pytest.mark.parametrize(
    ("x", "y", "options", "words"),
    [
        ([0, 1, 2, 3], [0, 1, 2], {}, "equal length"),
        ([[0, 1, 2, 3]], [[0, 1, 2, 3]], {}, "one-dimensional"),
        ([0, 1, 2, np.nan], [0, 1, 2, 3], {}, "not finite stands among the positions"),
        ([0, 1, 2, 3], [0, 1, np.inf, 3], {}, "not finite stands among the observations"),
        ([0, 1, 2, 3], [0, 1, 2, 3], {"weights": [1, 1, 1, -1]}, "negative weight"),
        ([0, 1, 2, 3], [0, 1, 2, 3], {"degree": -1}, "degree -1"),
    ],
)
def test_wrong_calls_say_what_is_wanted(x, y, options, words) -> None:
    with pytest.raises(UsageError, match=words):
        fit_polynomial(x, y, **options)
