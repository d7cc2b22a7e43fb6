"""Smooth departure from a parabola: size, significance, even average."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.polynomial import legendre
from scipy.stats import f

from filmstress.stats.lack_of_fit import LackOfFit, lack_of_fit, richer_fit
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.noise_draw import draw_correlated

N = 3000
X = np.linspace(-0.05, 0.05, N)
T = X / 0.05


def measured(y: np.ndarray, keep: np.ndarray | None = None) -> LackOfFit:
    fit = fit_quadratic(X, y, keep=keep)
    return lack_of_fit(fit, richer_fit(fit))


@pytest.mark.parametrize("order", [3, 4, 5, 6])
def test_a_legendre_polynomial_is_found_with_its_amplitude(order: int) -> None:
    """Against numpy.polynomial.legendre."""
    rng = np.random.default_rng(order)
    y = legendre.legval(T, [0.0, 0.0, 2e-6] + [0.0] * (order - 3) + [1e-7])
    found = measured(y + 1e-9 * rng.standard_normal(N))
    # Coefficient j of white noise is known to sd sqrt((2 j + 1) / N) = 0.07 nm.
    expected = np.zeros(4)
    expected[order - 3] = 1e-7
    np.testing.assert_allclose(found.amplitudes, expected, atol=4e-10)
    assert found.order == order
    assert found.significant
    assert found.rms == pytest.approx(1e-7 / np.sqrt(2 * order + 1), rel=0.01)
    assert found.share == pytest.approx(0.05 * np.sqrt(5.0 / (2 * order + 1)), rel=0.02)


def test_even_average_is_the_change_of_slope_over_the_length() -> None:
    """y = c x^4: slopes differ by 8 c h^3 over 2 h, while the parabola bends by 12/7 c h^2."""
    c, h = 0.2, 0.05
    y = c * X**4 + 1e-10 * np.random.default_rng(1).standard_normal(N)
    keep = np.ones(N, dtype=bool)
    keep[700:760] = False
    found = measured(y, keep)
    assert found.curvature_even == pytest.approx(4.0 * c * h**2, rel=2e-3)
    assert abs(found.curvature_even - 4.0 * c * h**2) < 4.0 * found.curvature_even_u + 1e-6
    plain = 2.0 * np.polyfit(X, y, 2)[0]
    assert plain == pytest.approx(12.0 / 7.0 * c * h**2, rel=2e-3)


def test_p_value_is_the_tail_of_the_f_distribution() -> None:
    """White noise alone in the family's best member: against scipy.stats.f, averaged likewise."""
    y = np.random.default_rng(3).standard_normal(N) + 0.1 * legendre.legval(T, [0, 0, 0, 0, 1])
    fit = fit_quadratic(X, y)
    richer = richer_fit(fit)
    assert richer is not None
    ratio = richer.fits.explained[:, -4:, 0].sum(axis=1) / (4.0 * richer.fits.scale[:, 0])
    expected = richer.mean.weight[:, 0] @ f.sf(ratio, 4, richer.fits.dof)
    assert lack_of_fit(fit, richer).p_value == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("length", [0.0, 0.0005, 0.005])
def test_noise_alone_is_no_shape(length: float) -> None:
    """At the 1 % level: more than 8 of 150 has a probability below 1e-4."""
    rng = np.random.default_rng(4)
    found = [measured(draw_correlated(X, 1e-9, length, rng)).significant for _ in range(150)]
    assert sum(found) <= 8


def test_what_is_too_short_or_exact_has_no_misfit() -> None:
    few = np.arange(10.0)
    fit = fit_quadratic(few, np.sin(few**2), lines=(0.3,))
    found = lack_of_fit(fit, richer_fit(fit))
    assert (found.rms, found.p_value, found.significant) == (0.0, 1.0, False)
    assert measured(np.zeros(N)).rms == 0.0
