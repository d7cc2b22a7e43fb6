"""Orders 0 to 6 of a trace together, against numpy's polynomials and a direct weighted fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.polynomial import legendre

from filmstress.records.curvature import SmoothShape
from filmstress.stats.lack_of_fit import higher_rows, richer_fit
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.noise_family import noise_family
from filmstress.stats.plain_fit import with_plain_parabola
from filmstress.stats.reml import fit_family
from filmstress.stats.smooth_shape import power_matrix, smooth_shape

X = np.linspace(-0.05, 0.07, 3001)
T = (X - 0.01) / 0.06


def test_powers_about_another_place_are_those_of_numpy() -> None:
    rng = np.random.default_rng(5)
    b = rng.normal(size=7)
    shape = SmoothShape(0.01, 0.06, b, np.eye(7), 10.0, np.zeros(7))
    powers = power_matrix(shape, 0.05) @ b
    x = np.linspace(-0.05, 0.05, 9)
    want = legendre.legval((x - 0.01) / 0.06, b)
    np.testing.assert_allclose(np.polyval(powers[::-1], x / 0.05), want, rtol=1e-12)


def test_an_exact_polynomial_comes_back() -> None:
    b = 1e-6 * np.array([3.0, -2.0, 5.0, 0.2, 0.3, -0.1, 0.05])
    noise = 1e-12 * np.random.default_rng(0).normal(size=X.size)
    y = legendre.legval(T, b) + noise
    fit = fit_quadratic(X, y)
    found = smooth_shape(fit, richer_fit(fit))
    # Block means carry the shape to the second order within a block.
    np.testing.assert_allclose(found.coefficients, b, atol=2e-4 * 1e-6)


def test_what_the_plain_parabola_reads() -> None:
    """The orders from 3 on leave a plain parabola over the whole trace where it is."""
    noise = 5e-9 * np.random.default_rng(1).normal(size=X.size)
    fit = fit_quadratic(X, 0.01 * X**2 + noise)
    shape = smooth_shape(fit, richer_fit(fit), plain=True)
    np.testing.assert_array_equal(shape.parabola_reads[3:], 0.0)
    y = 1e-6 * legendre.legval(T, [0.0, 0.0, 1.0, 0.3, 0.4])
    told = with_plain_parabola(fit, X, y)
    assert told.curvature == pytest.approx(1e-6 * shape.parabola_reads[2], rel=2e-3)


@pytest.mark.parametrize("member", [0, 20, 60, -1])
def test_what_a_weighted_parabola_reads(member: int) -> None:
    """One noise model at a time: its parabola fitted to each order by itself."""
    y = 0.01 * X**2 + 5e-9 * np.random.default_rng(1).normal(size=X.size)
    fit = fit_quadratic(X, y)
    richer = richer_fit(fit)
    assert richer is not None
    weight = np.zeros_like(richer.mean.weight)
    weight[member] = 1.0
    alone = replace(richer, mean=replace(richer.mean, weight=weight))
    shape = smooth_shape(fit, alone)
    blocks = fit.blocks
    family = noise_family(blocks.blocks, blocks.index, blocks.count)
    fits = fit_family(family, fit.regressors, higher_rows(blocks).T)
    want = fits.coefficients[member, 2] * 3.0 / blocks.half_length**2
    np.testing.assert_allclose(shape.parabola_reads[3:], want, rtol=1e-6, atol=1e-6)
