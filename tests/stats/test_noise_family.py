"""Covariance of block means, generalised least squares at each member, restricted likelihood."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.integrate import dblquad
from scipy.linalg import solve_toeplitz

from filmstress.stats.noise_family import NoiseFamily, noise_family
from filmstress.stats.reml import fit_family
from tests.stats.noise_reference import covariance, ou_block_covariance

BLOCKS = 50
CENTRES = (np.arange(BLOCKS) + 0.5) / BLOCKS - 0.5
PARABOLA = np.stack([np.ones(BLOCKS), CENTRES, 0.5 * CENTRES**2])


def even() -> NoiseFamily:
    return noise_family(BLOCKS, np.arange(BLOCKS), np.full(BLOCKS, 40.0))


def uneven() -> tuple[NoiseFamily, np.ndarray, np.ndarray]:
    index = np.delete(np.arange(BLOCKS), [0, 7, 8, 30])
    count = np.random.default_rng(3).integers(2, 60, index.size).astype(float)
    return noise_family(BLOCKS, index, count), index, count


def dense(family: NoiseFamily, member: int, index: np.ndarray, count: np.ndarray) -> np.ndarray:
    length, q = float(family.length[member]), float(family.white_share[member])
    return covariance(BLOCKS, length, q, index, count)


@pytest.mark.parametrize("length", [0.01, 0.13, 2.0, 10.0])
@pytest.mark.parametrize("lag", [0, 1, 5])
def test_covariance_of_block_means_is_the_double_integral(length: float, lag: int) -> None:
    """Checked against numerical integration (scipy.integrate.dblquad)."""
    blocks = 20
    width = 1.0 / blocks

    def density(s: float, t: float) -> float:
        return math.exp(-abs(s - t) / length) / width**2

    low = lag * width
    if lag == 0:  # twice the triangle below the kink
        expected = 2.0 * dblquad(density, 0.0, width, 0.0, lambda t: t, epsabs=1e-12)[0]
    else:
        expected = dblquad(density, 0.0, width, low, low + width, epsabs=1e-12)[0]
    assert ou_block_covariance(blocks, length)[0, lag] == pytest.approx(expected, rel=1e-9)


def test_every_member_is_whitened_exactly() -> None:
    family, index, count = uneven()
    whitener = family.whiten(np.eye(index.size))
    for member in range(0, family.log_det.size, 7):
        matrix = whitener[:, :, member]
        v = dense(family, member, index, count)
        np.testing.assert_allclose(matrix @ v @ matrix.T, np.eye(index.size), atol=1e-9)
        assert family.log_det[member] == pytest.approx(np.linalg.slogdet(v)[1], abs=1e-8)


@pytest.mark.parametrize("kind", ["even", "uneven"])
def test_generalised_least_squares_as_statsmodels_does_it(kind: str) -> None:
    """Coefficients, standard errors and residual variance against statsmodels.GLS."""
    family, index, count = uneven()
    if kind == "even":
        family, index, count = even(), np.arange(BLOCKS), np.full(BLOCKS, 40.0)
    regressors = PARABOLA[:, index]
    y = np.cumsum(np.random.default_rng(5).standard_normal(BLOCKS))[index]
    fits = fit_family(family, regressors, y[:, None])
    for member in range(0, family.log_det.size, 11):
        reference = sm.GLS(y, regressors.T, sigma=dense(family, member, index, count)).fit()
        np.testing.assert_allclose(
            fits.coefficients[member, :, 0], reference.params, rtol=1e-7, atol=1e-9
        )
        errors = np.sqrt(fits.scale[member, 0] * np.diag(fits.inverse_normal[member]))
        np.testing.assert_allclose(errors, reference.bse, rtol=1e-7)
        assert fits.scale[member, 0] == pytest.approx(reference.scale, rel=1e-8)


def test_restricted_likelihood_is_that_of_the_contrasts() -> None:
    """Patterson & Thompson (1971): the likelihood of what is orthogonal to the regressors.

    Differences between members must equal those of a normal density of N-3 contrasts, written out
    with numpy, with its variance maximised out.
    """
    family, index, count = uneven()
    regressors = PARABOLA[:, index]
    y = np.random.default_rng(8).standard_normal(index.size)
    contrasts = np.linalg.qr(regressors.T, mode="complete")[0][:, 3:]
    fits = fit_family(family, regressors, y[:, None])
    ours, theirs = [], []
    for member in range(0, family.log_det.size, 13):
        inner = contrasts.T @ dense(family, member, index, count) @ contrasts
        part = contrasts.T @ y
        square = part @ np.linalg.solve(inner, part)
        theirs.append(-0.5 * (np.linalg.slogdet(inner)[1] + part.size * math.log(square)))
        ours.append(fits.log_likelihood[member, 0])
    np.testing.assert_allclose(np.diff(ours), np.diff(theirs), rtol=1e-6, atol=1e-7)


def test_variance_of_the_curvature_under_white_noise_is_the_closed_form() -> None:
    """720 sigma^2 / (d^4 N (N^2 - 1) (N^2 - 4)), from the second orthogonal polynomial."""
    family = even()
    fits = fit_family(family, PARABOLA, CENTRES[:, None] ** 3)
    white = int(np.flatnonzero(family.white_share == 1.0)[0])
    n, d = BLOCKS, 1.0 / BLOCKS
    expected = 720.0 / (d**4 * n * (n**2 - 1) * (n**2 - 4))
    assert fits.inverse_normal[white, 2, 2] == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("length", [0.005, 0.01, 0.05, 0.1, 0.3, 1.0])
def test_block_means_lose_next_to_nothing(length: float) -> None:
    """Variance of the curvature from 50 block means against that from 2000 points.

    The points' covariance is solved by scipy.linalg.solve_toeplitz.
    """
    points = 2000
    x = np.linspace(-0.5, 0.5, points)
    rows = np.stack([np.ones(points), x, 0.5 * x * x], axis=1)
    solved = solve_toeplitz(np.exp(-np.arange(points) / (points - 1) / length), rows)
    full = np.linalg.inv(rows.T @ solved)[2, 2]
    covariance = ou_block_covariance(BLOCKS, length)
    means = np.linalg.inv(PARABOLA @ np.linalg.solve(covariance, PARABOLA.T))[2, 2]
    assert 0.99 < means / full < 1.06
