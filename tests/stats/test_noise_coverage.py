"""A small version of ``python -m tests.benchmarks.noise_coverage`` that always runs.

Bounds are binomial: a rule whose coverage is as stated beside each bound misses it with a
probability below 1e-5, so a run of all of them fails a correct program less than once in 10^4.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, chi2

from filmstress.stats.averaging import Setting
from filmstress.stats.noise import fit_quadratic
from tests.benchmarks.noise_coverage import fit_traces, study
from tests.benchmarks.noise_kinds import (
    BLIND,
    DRIFT,
    HIDDEN,
    KINDS,
    POINTS,
    SHORT,
    WALK,
    covariance_row,
    draw,
)

TRACES = 300
MISS = 1e-5


def least(coverage: float) -> float:
    """Share that a rule of this coverage falls below with probability 1e-5."""
    return float(binom.ppf(MISS, TRACES, coverage)) / TRACES


@pytest.mark.parametrize("kind", SHORT)
def test_noise_correlated_over_a_tenth_or_less(kind: str) -> None:
    rows = {row.setting: row for row in study(kind, TRACES, np.random.default_rng(21))}
    assert rows["sharp"].coverage >= least(0.925)
    assert rows["balanced"].coverage >= least(0.96)
    assert rows["safe"].coverage >= least(0.97)
    # The curvature scatters at most 8 % more than the best possible, but for chance.
    assert rows["balanced"].spread <= 1.08 * np.sqrt(chi2.ppf(1.0 - MISS, TRACES) / TRACES)
    assert rows["balanced"].width < 2.5
    assert rows["balanced"].warned <= 1.0 - least(0.88)


@pytest.mark.parametrize("kind", [HIDDEN, *DRIFT, *WALK])
def test_slow_drift(kind: str) -> None:
    rows = {row.setting: row for row in study(kind, TRACES, np.random.default_rng(22))}
    assert rows["balanced"].coverage >= least(0.90)
    assert rows["balanced"].ok_if_not_warned >= least(0.90) - 0.02
    assert rows["safe"].coverage >= least(0.93)
    assert rows["balanced"].spread <= 1.08 * np.sqrt(chi2.ppf(1.0 - MISS, TRACES) / TRACES)


def test_noise_as_smooth_as_shape_is_flagged() -> None:
    (row,) = study(BLIND[-1], TRACES, np.random.default_rng(23), [Setting.BALANCED])
    assert row.warned >= least(0.98)


def test_traces_fitted_together_are_fitted_alike() -> None:
    """The study fits many traces at once; users fit one."""
    x = np.linspace(-0.5, 0.5, POINTS)
    noise = draw("white + OU 3 %, 10:1", 5, np.random.default_rng(24))
    together = fit_traces(noise, Setting.BALANCED)
    for i, y in enumerate(noise):
        alone = fit_quadratic(x, y)
        assert together.error[i] == pytest.approx(alone.curvature, rel=1e-8, abs=1e-10)
        assert together.u[i] == pytest.approx(alone.u, rel=1e-8)
        assert together.dof[i] == pytest.approx(alone.dof, rel=1e-8)
        assert bool(together.established[i]) == alone.established


@pytest.mark.parametrize("kind", ["OU 3 %", "smooth 1 %", "1/f^1.5", "OU 0.3 % + OU 20 %, 1:1"])
def test_noise_is_drawn_with_the_covariance_it_is_said_to_have(kind: str) -> None:
    drawn = draw(kind, 800, np.random.default_rng(25))
    places = np.array([0, 1, 20, 300, 1999])
    found = drawn[:, places].T @ drawn[:, places] / len(drawn)
    row = covariance_row(kind)
    expected = row[np.abs(places[:, None] - places)]
    # Standard error of a covariance of unit variates: sqrt(2 / 800) = 0.05 at most.
    np.testing.assert_allclose(found, expected, atol=0.25)
    assert set(KINDS) >= {kind}
