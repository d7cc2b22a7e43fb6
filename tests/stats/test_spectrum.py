"""A narrow line in residuals: found where there is one, and not where there is none."""

from __future__ import annotations

import math

import numpy as np
import pytest

from filmstress.stats.noise import fit_quadratic
from filmstress.stats.spectrum import find_line
from tests.benchmarks.noise_kinds import KINDS, POINTS, draw

X = np.linspace(-0.05, 0.05, POINTS)
LENGTH = float(X[-1] - X[0])


def wave(cycles: float, amplitude: float, phase: float = 0.3) -> np.ndarray:
    return amplitude * np.sin(2.0 * math.pi * cycles / LENGTH * X + phase)


@pytest.mark.parametrize("cycles", [4.8, 5.3, 7.0, 20.5, 133.3, 400.0])
@pytest.mark.parametrize("phase", [0.0, 0.9, 2.2])
def test_a_line_is_found_where_it_is(cycles: float, phase: float) -> None:
    noise = np.random.default_rng(1).standard_normal(POINTS)
    line = find_line(X, noise + wave(cycles, 2.0, phase))
    assert line is not None
    # Best possible: sqrt(6 / N) sigma / (pi A) = 0.009 cycles (Rife & Boorstyn 1974, from memory).
    assert line.frequency * LENGTH == pytest.approx(cycles, abs=0.08)
    # sigma sqrt(2 / N) = 0.03.
    assert line.amplitude == pytest.approx(2.0, abs=0.16)
    assert line.ratio > 25.0


def test_a_line_survives_the_fit_of_the_parabola_and_a_mask() -> None:
    y = 0.5 * 100.0 * X**2 + np.random.default_rng(2).standard_normal(POINTS) + wave(6.4, 5.0)
    keep = np.ones(POINTS, dtype=bool)
    keep[400:470] = False
    y[430] = np.nan
    rest = fit_quadratic(X, y, keep=keep).residual(X, y)
    line = find_line(X, rest, keep=keep)
    assert line is not None
    assert line.frequency * LENGTH == pytest.approx(6.4, abs=0.05)


def test_fitting_the_line_removes_it() -> None:
    y = np.random.default_rng(3).standard_normal(POINTS) + wave(11.3, 4.0)
    line = find_line(X, fit_quadratic(X, y).residual(X, y))
    assert line is not None
    rest = fit_quadratic(X, y, lines=(line.frequency,)).residual(X, y)
    assert find_line(X, rest) is None


@pytest.mark.parametrize("kind", KINDS)
def test_noise_alone_has_no_line(kind: str) -> None:
    """Below 1 % each: more than 8 of 150 has a probability below 1e-4."""
    noise = draw(kind, 150, np.random.default_rng(4))
    assert sum(find_line(X, y) is not None for y in noise) <= 8


@pytest.mark.parametrize("away", [1e-6, 1e6])
def test_units_do_not_matter(away: float) -> None:
    y = np.random.default_rng(5).standard_normal(POINTS) + wave(30.0, 1.0)
    here, there = find_line(X, y), find_line(X * away + 3.0 * away, y * away)
    assert here is not None
    assert there is not None
    assert there.frequency * away == pytest.approx(here.frequency, rel=1e-6)
    assert there.amplitude == pytest.approx(here.amplitude * away, rel=1e-6)


def test_short_or_perfect_residuals_have_none() -> None:
    assert find_line(X[:100], wave(40.0, 1.0)[:100]) is None
    assert find_line(X, np.zeros(POINTS)) is None
    rounding = 0.5 * 0.04 * X**2
    assert find_line(X, rounding - fit_quadratic(X, rounding).height(X)) is None
