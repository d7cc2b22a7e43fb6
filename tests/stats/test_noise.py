"""A parabola under correlated noise: exactness, invariances, an oracle, refusals, memory."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.averaging import Setting
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.noise_draw import draw_correlated, draw_noise
from filmstress.stats.quadratic_fit import QuadraticFit
from tests.stats.noise_reference import covariance

N = 2000
X = np.linspace(-0.05, 0.05, N)


def noisy(seed: int = 1, *, x: np.ndarray = X, length: float = 0.003) -> np.ndarray:
    rng = np.random.default_rng(seed)
    noise = draw_correlated(x, 5e-9, length, rng) + 5e-9 * rng.standard_normal(x.size)
    return 0.5 * 0.03 * x**2 + 2e-4 * x + noise


def same(a: QuadraticFit, b: QuadraticFit, *, y: float = 1.0, x: float = 1.0) -> None:
    """``b`` is ``a`` with heights times ``y`` and positions times ``x``."""
    assert b.curvature == pytest.approx(a.curvature * y / x**2, rel=1e-7)
    assert b.u == pytest.approx(a.u * abs(y) / x**2, rel=1e-6)
    assert b.dof == pytest.approx(a.dof, rel=1e-6)
    assert b.correlation_length == pytest.approx(a.correlation_length * x, rel=1e-6)
    assert b.residual_rms == pytest.approx(a.residual_rms * abs(y), rel=1e-6)
    assert b.established == a.established


def test_noiseless_parabola_is_returned_to_rounding() -> None:
    x = np.linspace(3.0, 3.2, 5001)
    fit = fit_quadratic(x, 0.7 + 1e-3 * (x - 3.1) + 0.5 * 0.04 * (x - 3.1) ** 2)
    assert fit.curvature == pytest.approx(0.04, abs=1e-10)
    assert fit.tilt == pytest.approx(1e-3, abs=1e-12)
    assert fit.offset == pytest.approx(0.7, abs=1e-12)
    assert fit.u < 1e-10
    assert abs(fit.curvature - 0.04) < 10.0 * fit.u


@pytest.mark.parametrize("points", [10, 11, 37, 50, 51, 99, 1000])
def test_flat_heights_have_no_uncertainty_and_no_nan(points: int) -> None:
    """Coarsely digitised heights of a flat: every residual is exactly zero."""
    fit = fit_quadratic(np.arange(points) * 1e-3, np.full(points, 2.5))
    assert (fit.curvature, fit.u, fit.residual_rms) == (0.0, 0.0, 0.0)
    assert fit.established
    values = [fit.dof, fit.correlation_length, fit.white_share, *fit.covariance.ravel()]
    assert all(math.isfinite(value) for value in values)


@given(
    seed=st.integers(0, 50),
    offset=st.floats(-1e-3, 1e-3),
    tilt=st.floats(-1e-2, 1e-2),
    curvature=st.floats(-0.5, 0.5),
)
def test_a_parabola_more_moves_the_curvature_by_its_own(
    seed: int, offset: float, tilt: float, curvature: float
) -> None:
    y = noisy(seed)
    plain = fit_quadratic(X, y)
    moved = fit_quadratic(X, y + offset + tilt * X + 0.5 * curvature * X**2)
    assert moved.curvature - curvature == pytest.approx(plain.curvature, abs=1e-4 * plain.u)
    assert moved.u == pytest.approx(plain.u, rel=1e-4)
    assert moved.dof == pytest.approx(plain.dof, rel=1e-4)


@given(seed=st.integers(0, 50), height=st.sampled_from([-1.0, 1e-12, 3.7, 1e9, 1e150]))
def test_heights_scale_the_result(seed: int, height: float) -> None:
    y = noisy(seed)
    same(fit_quadratic(X, y), fit_quadratic(X, height * y), y=height)


@given(seed=st.integers(0, 50), scale=st.sampled_from([1e-6, 0.5, 1e3]))
def test_positions_scale_the_result(seed: int, scale: float) -> None:
    y = noisy(seed)
    same(fit_quadratic(X, y), fit_quadratic(scale * X, y), x=scale)


@pytest.mark.parametrize("away", [-2.0, 5.0])
def test_an_origin_metres_away_changes_nothing(away: float) -> None:
    y = noisy()
    near, far = fit_quadratic(X, y), fit_quadratic(X + away, y)
    same(near, far)
    assert far.centre == pytest.approx(near.centre + away, abs=1e-12)
    assert far.tilt == pytest.approx(near.tilt, rel=1e-9)


def test_a_reversed_trace_has_the_same_curvature() -> None:
    y = noisy()
    forth, back = fit_quadratic(X, y), fit_quadratic(-X[::-1], y[::-1])
    same(forth, back)
    assert back.tilt == pytest.approx(-forth.tilt, rel=1e-9)


@given(seed=st.integers(0, 20), dropped=st.floats(0.01, 0.6))
def test_masked_points_might_as_well_not_be_there(seed: int, dropped: float) -> None:
    y = noisy(seed)
    keep = np.random.default_rng(seed).random(N) > dropped
    spoiled = np.where(keep, y, np.nan)
    masked, without = fit_quadratic(X, spoiled, keep=keep), fit_quadratic(X[keep], y[keep])
    same(without, masked)
    assert masked.points_used == np.count_nonzero(keep)


def oracle(x: np.ndarray, y: np.ndarray, power: float, walk: float) -> tuple[float, float, float]:
    """Curvature, u and dof by statsmodels.GLS at each member of the family, averaged by hand.

    Fifty equal parts; empty ones left out; V = q W + (1 - q) C.
    """
    step = (x[-1] - x[0]) / (x.size - 1)
    edges = np.linspace(x[0] - 0.5 * step, x[-1] + 0.5 * step, 51)
    part = np.digitize(x, edges[1:-1])
    index = np.unique(part)
    count = np.array([np.sum(part == i) for i in index], dtype=float)
    rows = np.stack([np.ones_like(x), x, 0.5 * x**2, y])
    means = np.stack([rows[:, part == i].mean(axis=1) for i in index])
    design = means[:, :3] / np.abs(means[:, :3]).max(axis=0)
    per_unit = 1.0 / np.abs(means[:, 2]).max()
    values, variances, weights = [], [], {"own": [], "sharp": []}
    for length in 0.01 * np.exp(0.5 * np.arange(14)):
        for q in [0.0, *(1.0 / (1.0 + np.exp(-np.arange(-6.5, 7.0)))), 1.0]:
            v = covariance(50, length, q, index, count)
            fit = sm.GLS(means[:, 3] / 1e-9, design, sigma=v).fit()
            rest = fit.resid @ np.linalg.solve(v, fit.resid)
            normal = design.T @ np.linalg.solve(v, design)
            likelihood = -0.5 * (
                np.linalg.slogdet(v)[1]
                + np.linalg.slogdet(normal)[1]
                + (index.size - 3) * math.log(rest)
            )
            values.append(1e-9 * per_unit * fit.params[2])
            variances.append((1e-9 * per_unit * fit.bse[2]) ** 2)
            short = math.log(min(length, 1.0))
            lump = math.log(walk) if length >= 1.0 else 0.0
            weights["own"].append(likelihood + power * short + lump)
            weights["sharp"].append(likelihood - short)
    own, sharp = (np.exp(np.array(w) - max(w)) for w in weights.values())
    own, sharp = own / own.sum(), sharp / sharp.sum()
    value = float(sharp @ values)
    logs = np.log(variances)
    mean = own @ logs
    u = math.sqrt(math.exp(mean) + own @ (np.array(values) - value) ** 2)
    dof = 2.0 / (own @ (logs - mean) ** 2 + 2.0 / (index.size - 3))
    return value, u, max(float(dof), 3.0)


@pytest.mark.parametrize(
    ("setting", "power", "walk"),
    [("sharp", -1.0, 1.0), ("balanced", -0.75, 10.0), ("safe", -0.25, 10.0)],
)
def test_uneven_points_with_a_gap_against_an_oracle(
    setting: str, power: float, walk: float
) -> None:
    rng = np.random.default_rng(4)
    x = np.sort(rng.uniform(-0.04, 0.06, 700))
    x = x[(x < 0.01) | (x > 0.016)]
    y = noisy(3, x=x)
    fit = fit_quadratic(x, y, setting=setting)
    value, u, dof = oracle(x, y, power, walk)
    assert fit.curvature == pytest.approx(value, abs=1e-6 * u)
    assert fit.u == pytest.approx(u, rel=1e-6)
    assert fit.dof == pytest.approx(dof, rel=1e-6)


def test_settings_share_the_estimate_and_order_the_intervals() -> None:
    """On average; a single trace may order them otherwise."""
    widths = {setting: [] for setting in Setting}
    for seed in range(20):
        fits = {setting: fit_quadratic(X, noisy(seed), setting=setting) for setting in Setting}
        assert len({fit.curvature for fit in fits.values()}) == 1
        for setting, fit in fits.items():
            widths[setting].append(fit.u * (1.96 + 2.4 / fit.dof))
    mean = [np.mean(np.log(widths[s])) for s in (Setting.SHARP, Setting.BALANCED, Setting.SAFE)]
    assert mean[0] < mean[1] < mean[2]


def test_the_band_is_the_spread_of_the_parabola() -> None:
    fit = fit_quadratic(X, noisy())
    d = X - fit.centre
    rng = np.random.default_rng(0)
    drawn = rng.multivariate_normal(np.zeros(3), fit.covariance, size=20_000)
    heights = drawn @ np.stack([np.ones_like(d), d, 0.5 * d * d])[:, ::400]
    # A standard deviation of 20,000 draws is known to 0.5 %: 2.5 % is five of those.
    np.testing.assert_allclose(fit.height_u(X[::400]), heights.std(axis=0), rtol=0.025)
    assert fit.covariance[2, 2] == pytest.approx(fit.u**2, rel=1e-12)


@pytest.mark.parametrize("cycles", [5.3, 12.0, 31.7, 75.0, 101.0])
def test_a_wave_fitted_along_no_longer_disturbs(cycles: float) -> None:
    """Slow waves are fitted to the block means, fast ones (over 25 cycles) to the points."""
    frequency = cycles / (X[-1] - X[0])
    phase = 2.0 * math.pi * frequency * X
    y = noisy(7)
    clean = fit_quadratic(X, y)
    waved = y + 4e-7 * np.cos(phase) - 3e-7 * np.sin(phase)
    fit = fit_quadratic(X, waved, lines=(frequency,))
    (wave,) = fit.waves
    assert wave.amplitude == pytest.approx(5e-7, rel=0.01)
    assert abs(fit.curvature - clean.curvature) < 0.5 * clean.u
    assert fit.u < 1.5 * clean.u
    assert fit.residual_rms == pytest.approx(clean.residual_rms, rel=0.02)
    assert np.abs(fit.residual(X, waved)).max() < 6e-8


@pytest.mark.parametrize(
    ("length", "white"), [(0.004, 0.0), (0.01, 2e-8), (0.0, 1e-8), (0.0002, 0.0)]
)
def test_draws_of_the_fitted_noise_look_like_the_noise(length: float, white: float) -> None:
    """Rms about a parabola of blocks of 1/50 (what moves the curvature) and of points."""
    rng = np.random.default_rng(2)
    truth = np.array(
        [draw_correlated(X, 1e-8, length, rng) + white * rng.standard_normal(N) for _ in range(60)]
    )
    drawn = np.array([draw_noise(fit_quadratic(X, y), X, rng) for y in truth])
    parabolas = np.linalg.qr(np.vander(X, 3))[0]

    def rms(traces: np.ndarray, points: int) -> float:
        rest = traces - (traces @ parabolas) @ parabolas.T
        return float(rest.reshape(60, -1, points).mean(axis=2).std())

    # Sixty traces of the longest noise are some 600 independent stretches: 3 % each way, and the
    # fits add the error of sixty noise models.
    assert rms(drawn, 40) / rms(truth, 40) == pytest.approx(1.0, abs=0.12)
    assert rms(drawn, 1) / rms(truth, 1) == pytest.approx(1.0, abs=0.12)


def test_correlated_draws_have_the_covariance_asked_for() -> None:
    """Uneven steps, one of them a thousand correlation lengths: exp(-|h| / l)."""
    x = np.cumsum([0.0, 0.1, 0.05, 0.4, 1000.0, 0.2])
    rng = np.random.default_rng(6)
    draws = np.array([draw_correlated(x, 2.0, 0.3, rng) for _ in range(20_000)])
    expected = 4.0 * np.exp(-np.abs(x[:, None] - x) / 0.3)
    # Standard error of a covariance: at most 4 sqrt(2 / 20,000) = 0.04.
    np.testing.assert_allclose(draws.T @ draws / len(draws), expected, atol=0.2)


def test_few_points_are_refused_with_what_is_needed() -> None:
    with pytest.raises(RefusedInput, match=r"9 points are left.*at least 10"):
        fit_quadratic(np.arange(9.0), np.zeros(9))
    with pytest.raises(RefusedInput, match="9 points are left"):
        fit_quadratic(X, noisy(), keep=np.arange(N) < 9)


def test_points_in_two_heaps_are_refused() -> None:
    x = np.concatenate([np.linspace(0.0, 1e-4, 50), np.linspace(0.0999, 0.1, 50)])
    with pytest.raises(RefusedInput, match="fill 2 of 50 equal parts"):
        fit_quadratic(x, np.zeros(100))


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_heights_that_are_no_numbers_are_refused(bad: float) -> None:
    y = noisy()
    y[77] = bad
    with pytest.raises(RefusedInput, match="finite"):
        fit_quadratic(X, y)


def test_wrong_calls_say_what_is_wanted() -> None:
    with pytest.raises(UsageError, match="vectors of one length"):
        fit_quadratic(X, noisy()[:-1])
    with pytest.raises(UsageError, match=r"'bold' is no setting.*'sharp', 'balanced', 'safe'"):
        fit_quadratic(X, noisy(), setting="bold")
    with pytest.raises(UsageError, match="no full period"):
        fit_quadratic(X, noisy(), lines=(5.0,))
    with pytest.raises(RefusedInput, match="increase"):
        fit_quadratic(X[::-1], noisy())
    with pytest.raises(RefusedInput, match="cannot carry"):
        fit_quadratic(np.arange(12.0), np.arange(12.0) ** 2, lines=(0.2, 0.25, 0.3, 0.35))


def test_long_traces_need_little_beside_themselves() -> None:
    x = np.linspace(0.0, 0.3, 2_000_000)
    y = np.sin(40.0 * x)
    keep = np.ones(x.size, dtype=bool)
    keep[1000:5000] = False
    fit_quadratic(X, noisy())
    tracemalloc.start()
    fit_quadratic(x, y, keep=keep)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 0.4 * x.nbytes


def test_covariance_of_the_parts_of_a_parabola() -> None:
    """Ordinary least squares, from Legendre's polynomials: u(b)/u(k) = h / sqrt(15).

    These are the parts of z = a + b x + k x²/2 about the middle of 2 h; a goes against k.
    The fit does not know that this noise is white, and what it allows for correlation weighs on
    the parts unlike: the ratio holds within a factor of two, which no wrong power of h does.
    """
    x = np.linspace(0.0, 0.1, 4001)
    y = 0.5 * 0.02 * x**2 + 1e-8 * np.random.default_rng(3).standard_normal(x.size)
    fit = fit_quadratic(x, y)
    assert fit.length == pytest.approx(0.1, rel=1e-3)
    (aa, _, ak), (_, bb, _), (_, _, kk) = fit.covariance
    assert math.sqrt(kk) == pytest.approx(fit.u, rel=1e-12)
    assert 0.5 < math.sqrt(bb / kk) / (0.05 / math.sqrt(15.0)) < 2.0
    assert -1.0 < ak / math.sqrt(aa * kk) < 0.0
