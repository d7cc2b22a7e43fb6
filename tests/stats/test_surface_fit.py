"""Noise over an area: its covariances, whitening and likelihood; whether it runs in a direction."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.integrate import quad
from scipy.special import gamma, kv

from filmstress.errors import RefusedInput
from filmstress.stats import area_family as families
from filmstress.stats.area_family import AreaFamily, area_family
from filmstress.stats.area_means import AreaMeans, area_means, far_from_medians
from filmstress.stats.directedness import DIRECTED, directedness
from filmstress.stats.reml import fit_family
from filmstress.stats.surface_fit import fit_surface

AXIS = np.linspace(-1.0, 1.0, 37)
X, Y = (part.ravel() for part in np.meshgrid(AXIS, AXIS))
DISC = np.hypot(X, Y) <= 1.0
KINDS = ("_rough", "_between", "_smooth")


@pytest.fixture(scope="module")
def means() -> AreaMeans:
    z = np.random.default_rng(4).normal(size=X.size)
    return area_means(X[DISC], Y[DISC], z[DISC])


@pytest.fixture(scope="module")
def family(means: AreaMeans) -> AreaFamily:
    return area_family(means)


def dense(family: AreaFamily, member: int) -> np.ndarray:
    root = np.sqrt(family.white)[:, None] * family.vectors[member // families._WHITE_SHARES.size]
    return root / family.root[:, member] ** 2 @ root.T


@pytest.mark.parametrize("kind", KINDS)
def test_correlation_lengths_are_integrals_of_the_correlation(kind: str) -> None:
    correlation = getattr(families, kind)
    found = quad(lambda d: float(correlation(np.float64(d))), 0.0, np.inf)[0]
    assert found == pytest.approx(1.0, rel=1e-9)


def test_the_noise_between_is_matern_of_order_three_halves() -> None:
    """General form by Handcock & Stein (1993), from memory, with scipy's Bessel function."""
    nu, d = 1.5, np.linspace(0.01, 5.0, 50)
    # Their range is 1 / 2 where the integral is 1.
    want = 2.0 ** (1.0 - nu) / gamma(nu) * (2.0 * d) ** nu * kv(nu, 2.0 * d)
    assert families._between(d) == pytest.approx(want, rel=1e-9)


def test_members_are_noise_averaged_over_the_squares(means: AreaMeans, family: AreaFamily) -> None:
    """Against the covariances of all points, averaged square by square."""
    x, y = X[DISC], Y[DISC]
    column, row = (np.minimum((6.0 * (1.0 + place)).astype(int), 11) for place in (x, y))
    square = 12 * row + column
    rows = np.stack([square == n for n in np.flatnonzero(means.filled)]).astype(float)
    rows /= rows.sum(axis=1)[:, None]
    distance = 0.5 * np.hypot(x[:, None] - x, y[:, None] - y)
    shares = families._WHITE_SHARES.size
    starts = np.cumsum([0, families._LENGTHS.size, families._LENGTHS.size])
    # Four places stand for all points of a square, less well where the correlation has a cusp.
    for start, kind, within in zip(starts, KINDS, (1e-2, 1e-3, 1e-3), strict=True):
        member = (int(start) + 8) * shares + 20
        length, q = float(family.length[member]), float(family.white_share[member])
        slow = rows @ getattr(families, kind)(distance / length) @ rows.T
        want = np.diag(q * family.white) + (1.0 - q) * slow / np.diag(slow).mean()
        found = dense(family, member)
        assert np.abs(found - want).max() < within
        columns = np.random.default_rng(1).normal(size=(len(want), 2))
        whitened = family.whiten(columns)[:, :, member]
        inverse = columns.T @ np.linalg.solve(found, columns)
        assert whitened.T @ whitened == pytest.approx(inverse, rel=1e-6)
        combined = family.covariance(columns.T)[member]
        assert combined == pytest.approx(columns.T @ found @ columns, rel=1e-9)
        assert family.log_det[member] == pytest.approx(np.linalg.slogdet(found)[1], rel=1e-6)


def test_fits_are_generalised_least_squares(means: AreaMeans, family: AreaFamily) -> None:
    """Against statsmodels."""
    fits = fit_family(family, means.moments, means.z[:, None])
    for member in (100, 700, 1200):
        other = sm.GLS(means.z, means.moments.T, sigma=dense(family, member)).fit()
        assert fits.coefficients[member, :, 0] == pytest.approx(other.params, rel=1e-6)
        assert fits.scale[member, 0] == pytest.approx(other.scale, rel=1e-6)


def test_white_noise_has_the_uncertainty_of_least_squares() -> None:
    """Against statsmodels on every point; model averaging may widen, by what is possible."""
    rng = np.random.default_rng(12)
    x, y = X[DISC], Y[DISC]
    z = 0.3 * x**2 + rng.normal(size=x.size)
    fit = fit_surface(x, y, z)
    rows = np.stack([np.ones_like(x), x, y, 0.5 * x**2, 0.5 * y**2, x * y], axis=1)
    plain = sm.OLS(z, rows).fit()
    assert fit.curvature == pytest.approx(plain.params[3:], abs=0.5 * float(plain.bse[3]))
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx(plain.bse[3:], rel=0.35)
    assert fit.established
    assert not fit.directed
    assert fit.residual_rms == pytest.approx(1.0, rel=0.05)


def test_spikes_are_told_from_their_neighbours() -> None:
    rng = np.random.default_rng(5)
    z = rng.normal(size=X.size)
    hit = rng.choice(X.size, 30, replace=False)
    z[hit] += np.where(rng.random(30) < 0.5, 40.0, -40.0)
    assert np.flatnonzero(far_from_medians(X, Y, z)).tolist() == sorted(hit)
    assert not far_from_medians(X, Y, np.zeros(X.size)).any()


@pytest.mark.parametrize("turned", [0, 1, 2])
def test_waves_one_way_are_directed(turned: int) -> None:
    x, y = ((X, Y), (Y, X), (X + Y, X - Y))[turned]
    z = np.random.default_rng(6).normal(scale=0.1, size=X.size)
    straight = area_means(X, Y, z)
    assert directedness(straight, straight.z) < 1.5
    rows = area_means(X, Y, z + np.sin(9.0 * y) + 0.0 * x)
    assert directedness(rows, rows.z) > DIRECTED
    assert directedness(rows, 0.0 * rows.z) == 1.0


def test_what_fills_no_area_is_refused() -> None:
    with pytest.raises(RefusedInput, match="fill 12 of 144 equal squares"):
        fit_surface(AXIS, 0.0 * AXIS, 0.0 * AXIS)
    # Two rows far apart: nothing tells what is between them.
    two = np.concatenate([0.0 * AXIS - 1.0, 0.0 * AXIS + 1.0])
    with pytest.raises(RefusedInput, match="along too few lines"):
        fit_surface(np.tile(AXIS, 2), two, 0.0 * two)
    with pytest.raises(RefusedInput, match="no points are left"):
        fit_surface(AXIS[:0], AXIS[:0], AXIS[:0])
    with pytest.raises(RefusedInput, match="at one place"):
        fit_surface(AXIS[:1], AXIS[:1], AXIS[:1])
