"""A step under correlated noise: the standard's own reading, an oracle, invariances, coverage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.step_fit import StepFit, fit_step
from tests.stats.step_traces import CASES, GROOVE, WINDOW, Case, X, correlated, fitted, holds

# A groove of width 30 in a window of 90, read by ISO 5436-1, type A1 (the rule from memory, the
# numbers constructed): parts |X| <= 5 and 25 <= |X| <= 45.
ISO_X = np.arange(-45.0, 46.0)
ISO_USE = (np.abs(ISO_X) <= 5) | (np.abs(ISO_X) >= 25)
ISO_UPPER = np.abs(ISO_X) > 15
ISO_Z = 0.02 * ISO_X + np.where(ISO_UPPER, 1.0, 0.5)
# What 1e-4 X^2 adds to the depth that a straight line gives: 1e-4 (mean of X^2 of the upper parts
# less that of the floor), by hand.
ISO_BOW, ISO_BIAS = 1e-4, 1e-4 * (26495 / 21 - 10)


def iso(z: np.ndarray, *, bow: bool) -> StepFit:
    return fit_step(ISO_X[ISO_USE], z[ISO_USE], ISO_UPPER[ISO_USE], window=(-45, 45), bow=bow)


@pytest.mark.parametrize("bow", [True, False])
def test_the_constructed_groove_is_read_exactly(bow: bool) -> None:
    fit = iso(ISO_Z, bow=bow)
    assert fit.height == pytest.approx(0.5, abs=1e-14)
    assert fit.tilt == pytest.approx(0.02, abs=1e-15)
    assert fit.curvature == pytest.approx(0.0, abs=1e-16)
    assert fit.u < 1e-14


def test_a_bow_is_taken_for_depth_by_the_straight_line_alone() -> None:
    bowed = ISO_Z + ISO_BOW * ISO_X**2
    straight = iso(bowed, bow=False)
    assert straight.height == pytest.approx(0.5 + ISO_BIAS, abs=1e-13)
    assert straight.height == pytest.approx(0.6251666667, abs=1e-10)
    assert straight.tilt == pytest.approx(0.02, abs=1e-15)
    curved = iso(bowed, bow=True)
    assert curved.height == pytest.approx(0.5, abs=1e-13)
    assert curved.curvature == pytest.approx(2 * ISO_BOW, abs=1e-16)


@pytest.mark.parametrize("bow", [True, False])
def test_height_is_that_of_numpy_least_squares(bow: bool) -> None:
    _, use, upper = GROOVE
    x, up = X[use] + 7.0, upper[use]
    z = 3.0 + 0.2 * x + 0.1 * x**2 + 0.4 * up + np.random.default_rng(5).normal(size=x.size)
    # As the standard writes it: Z = alpha X + beta + h delta, depth 2 h.
    columns = [x, np.ones_like(x), np.where(up, 1.0, -1.0)] + ([x**2] if bow else [])
    found = np.linalg.lstsq(np.stack(columns, axis=1), z, rcond=None)[0]
    fit = fit_step(x, z, up, window=(5.5, 8.5), bow=bow)
    assert fit.height == pytest.approx(2.0 * found[2], rel=1e-10)
    line = found[0] * x + found[1] + (found[3] * x**2 if bow else 0.0)
    np.testing.assert_allclose(fit.line(x), line, rtol=1e-9)
    rest = z - found @ np.stack(columns)
    assert fit.residual_rms == pytest.approx(np.sqrt(np.mean(rest**2)))


def test_under_white_noise_u_is_near_that_of_plain_least_squares() -> None:
    """Mean of u^2 over 60 traces; plain least squares knows that the noise is white."""
    _, use, upper = GROOVE
    columns = np.stack([np.where(upper, 0.5, -0.5), np.ones_like(X), X, X**2], axis=1)[use]
    plain = np.sqrt(np.linalg.inv(columns.T @ columns)[0, 0])
    rng = np.random.default_rng(11)
    us = [fitted(Case("groove", "white", bow=True), rng).u for _ in range(60)]
    mean = np.sqrt(np.mean(np.square(us)))
    # What cannot be ruled out is added, and no trace may promise more than plain least squares.
    assert plain < mean < 1.6 * plain


@settings(max_examples=20)
@given(
    seed=st.integers(0, 10_000),
    offset=st.floats(-1e3, 1e3),
    tilt=st.floats(-10.0, 10.0),
    scale=st.floats(1e-3, 1e3),
    stretch=st.floats(1e-6, 1e3),
    bow=st.booleans(),
)
def test_what_must_not_matter_does_not(
    seed: int, offset: float, tilt: float, scale: float, stretch: float, bow: bool
) -> None:
    _, use, upper = GROOVE
    x, up = X[use], upper[use]
    z = correlated(np.random.default_rng(seed), 12.0, x.size) + 5.0 * up
    fit = fit_step(x, z, up, window=WINDOW, bow=bow)
    same = {"rel": 1e-6, "abs": 1e-9 * scale * (1.0 + abs(offset) + abs(tilt))}

    def check(other: StepFit, size: float) -> None:
        assert other.height == pytest.approx(size * fit.height, **same)
        assert other.u == pytest.approx(abs(size) * fit.u, rel=1e-5)
        assert other.dof == pytest.approx(fit.dof, rel=1e-5)

    check(fit_step(x, scale * (z + offset + tilt * x), up, window=WINDOW, bow=bow), scale)
    check(fit_step(x, -scale * z, up, window=WINDOW, bow=bow), -scale)
    check(fit_step(x, scale * z, ~up, window=WINDOW, bow=bow), -scale)
    mirrored = fit_step(-x[::-1], scale * z[::-1], up[::-1], window=WINDOW, bow=bow)
    check(mirrored, scale)
    wide = (stretch * WINDOW[0], stretch * WINDOW[1])
    check(fit_step(stretch * x, scale * z, up, window=wide, bow=bow), scale)


TRACES = 100
# At a true coverage of 0.92, fewer than this are held with a probability of 1e-4.
LEAST_HELD = int(binom.ppf(1e-4, TRACES, 0.92))


@pytest.mark.parametrize("case", [one for one in CASES if one.bow], ids=str)
def test_the_interval_holds_the_truth(case: Case) -> None:
    """Fails for a correct program (coverage 0.92 or more) once in 10,000 runs for each case."""
    rng = np.random.default_rng(2024)
    held = sum(holds(fitted(case, rng)) for _ in range(TRACES))
    assert held >= LEAST_HELD


def test_an_interval_of_white_residuals_would_not_hold() -> None:
    """What the noise model is for: plain least squares holds too seldom under correlation."""
    _, use, upper = GROOVE
    columns = np.stack([np.where(upper, 0.5, -0.5), np.ones_like(X), X, X**2], axis=1)[use]
    pseudo = np.linalg.pinv(columns)
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(200):
        z = correlated(rng, 15.0)[use]
        rest = z - columns @ (pseudo @ z)
        u = np.sqrt(rest @ rest / (z.size - 4) * np.linalg.inv(columns.T @ columns)[0, 0])
        held += abs(pseudo[0] @ z) <= 1.96 * u
    assert held < 120


def test_no_residuals_are_no_uncertainty_and_no_nan() -> None:
    _, use, upper = GROOVE
    x = X[use]
    fit = fit_step(x, np.full(x.size, 2.5), upper[use], window=WINDOW, bow=True)
    assert (fit.height, fit.u, fit.residual_rms) == (0.0, 0.0, 0.0)
    assert np.isfinite(fit.dof)


def test_one_level_without_residuals_is_bearable() -> None:
    _, use, upper = GROOVE
    z = np.where(upper, np.random.default_rng(3).normal(size=X.size), 0.0)
    fit = fit_step(X[use], z[use], upper[use], window=WINDOW, bow=False)
    assert 0.0 < fit.u < 1.0
    assert fit.dof >= 1.0


def test_too_few_points_are_refused() -> None:
    x = np.array([-1.4, -1.2, 0.0, 1.2, 1.4])
    with pytest.raises(RefusedInput, match="cannot carry a step"):
        fit_step(x, x, np.abs(x) > 0.5, window=WINDOW, bow=True)
    x = np.concatenate([np.linspace(-1.5, -1.49, 50), np.linspace(0.0, 0.01, 50)])
    with pytest.raises(RefusedInput, match="fill"):
        fit_step(x, x**3, x > -1.0, window=WINDOW, bow=True)


def test_shapes_that_differ_are_the_callers_fault() -> None:
    with pytest.raises(UsageError):
        fit_step(np.zeros(9), np.zeros(8), np.zeros(9, dtype=bool), window=WINDOW, bow=True)
