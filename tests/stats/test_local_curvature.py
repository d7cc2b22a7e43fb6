"""Curvature along a trace and the plain parabola, against drawn shapes and numpy."""

from __future__ import annotations

import numpy as np
import pytest

from filmstress.stats.lack_of_fit import lack_of_fit, richer_fit
from filmstress.stats.local_curvature import LocalCurvature, local_curvature
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.plain_fit import with_plain_parabola
from filmstress.stats.quadratic_fit import QuadraticFit

X = np.linspace(-0.04, 0.04, 4001)


def bent(x: np.ndarray) -> np.ndarray:
    return 0.5 * 0.01 * x**2 + 2e-4 * x**3 + 0.6 * x**4


def along(fit: QuadraticFit, places: np.ndarray) -> LocalCurvature:
    return local_curvature(fit, places, richer_fit(fit))


def bends(x: np.ndarray) -> np.ndarray:
    return 0.01 + 12e-4 * x + 7.2 * x**2


def test_the_band_holds_the_curvature_that_was_drawn() -> None:
    places = np.linspace(-0.036, 0.036, 7)
    held = 0
    for seed in range(60):
        y = bent(X) + 5e-9 * np.random.default_rng(seed).normal(size=X.size)
        found = along(fit_quadratic(X, y), places)
        held += int(np.sum(np.abs(found.curvature - bends(places)) <= 2.0 * found.u))
    # 420 looks, some six or seven independent ones a trace; a correct band holds 95 % or so, and
    # falls below 88 % with a probability under 1e-3.
    assert held >= 0.88 * 420


def test_a_parabola_is_the_same_all_along() -> None:
    y = 0.5 * 0.02 * X**2 + 5e-9 * np.random.default_rng(1).normal(size=X.size)
    found = along(fit_quadratic(X, y), np.linspace(-0.03, 0.03, 9))
    assert np.all(np.abs(found.curvature - 0.02) < 5.0 * found.u)
    assert np.all(found.u < 2e-5)


def test_exact_data_have_an_exact_curvature() -> None:
    found = along(fit_quadratic(X, 0.0 * X), np.array([0.0, 0.01]))
    np.testing.assert_array_equal(found.curvature, 0.0)
    np.testing.assert_array_equal(found.u, 0.0)


@pytest.mark.parametrize("masked", [slice(0, 0), slice(1000, 1600)])
def test_the_plain_parabola_is_that_of_numpy(masked: slice) -> None:
    keep = np.ones(X.size, bool)
    keep[masked] = False
    y = bent(X) + 5e-9 * np.random.default_rng(2).normal(size=X.size)
    fit = fit_quadratic(X, y, keep=keep)
    plain = with_plain_parabola(fit, X, y, keep=keep)
    want = np.polyfit(X[keep] / 0.04, y[keep], 2) / np.array([0.04**2, 0.04, 1.0])
    assert plain.curvature == pytest.approx(2.0 * want[0], rel=1e-9)
    np.testing.assert_allclose(plain.height(X), np.polyval(want, X), atol=1e-14)
    assert plain.u >= fit.u
    assert lack_of_fit(fit, richer_fit(fit)).significant


def test_the_curvature_along_the_trace_does_not_depend_on_which_parabola_is_told() -> None:
    y = bent(X) + 5e-9 * np.random.default_rng(3).normal(size=X.size)
    fit = fit_quadratic(X, y)
    here = along(fit, np.array([0.0, 0.02]))
    there = along(with_plain_parabola(fit, X, y), np.array([0.0, 0.02]))
    np.testing.assert_allclose(there.curvature, here.curvature, rtol=1e-6)
