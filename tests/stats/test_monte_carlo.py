"""Monte Carlo propagation against closed forms, and the adaptive procedure's own rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.stats.draws import Variate
from filmstress.stats.monte_carlo import (
    Floats,
    interval_ranks,
    probability_between,
    propagate,
    shortest_interval,
    symmetric_interval,
    tolerance_of,
)
from tests.benchmarks.monte_carlo import cost, memory

X, Y = Variate("X"), Variate("Y")


@pytest.mark.parametrize(
    ("u", "digits", "want"),
    [
        # JCGM 101:2008, 7.9.2, examples 1 and 2 (from memory): 0.035 mA has 0.0005 to two digits
        # and 0.005 to one.
        (0.035, 2, 0.0005),
        (0.035, 1, 0.005),
        (0.0996, 2, 0.005),
        (9.96, 1, 5.0),
        (32.0, 2, 0.5),
    ],
)
def test_tolerance(u: float, digits: int, want: float) -> None:
    assert tolerance_of(u, digits) == pytest.approx(want)


@pytest.mark.parametrize("u", [0.0, -1.0, math.inf, math.nan])
def test_no_tolerance_without_an_uncertainty(u: float) -> None:
    with pytest.raises(UsageError):
        tolerance_of(u)


def test_ranks_are_the_guides() -> None:
    # JCGM 101:2008, 7.7.2: q = pM = 95 000 and r = (M - q)/2 = 2500, counted from 1.
    assert interval_ranks(100_000, 0.95) == (95_000, 2_499)
    ordered = np.arange(1.0, 100_001.0)
    assert symmetric_interval(ordered, 0.95) == (2_500.0, 97_500.0)


@given(st.integers(2, 500), st.floats(0.5, 0.99))
def test_the_shortest_interval_is_no_longer_than_the_symmetric(count: int, p: float) -> None:
    ordered = np.sort(np.random.default_rng(count).exponential(size=count))
    low, high = symmetric_interval(ordered, p)
    short_low, short_high = shortest_interval(ordered, p)
    assert short_high - short_low <= high - low
    spanned, first = interval_ranks(count, p)
    assert 0 <= first <= first + spanned < count


@settings(deadline=None, max_examples=10)
@given(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0), st.floats(0.05, 2.0), st.floats(0.05, 2.0))
def test_product_of_normals(a: float, b: float, u_a: float, u_b: float) -> None:
    """Mean ab, variance a^2 u_b^2 + b^2 u_a^2 + u_a^2 u_b^2 (Goodman, JASA 55 (1960) 708)."""

    def product(reduced: Floats) -> Floats:
        return ((a + u_a * reduced[0]) * (b + u_b * reduced[1]))[None]

    u = math.sqrt((a * u_b) ** 2 + (b * u_a) ** 2 + (u_a * u_b) ** 2)
    (found,) = propagate(product, [X, Y], tolerances=[0.02 * u])
    assert found.value == pytest.approx(a * b, abs=0.04 * u)
    assert found.u == pytest.approx(u, rel=0.04)


def test_ratio_of_normals_about_zero_is_cauchys() -> None:
    (found,) = propagate(lambda z: (z[0] / z[1])[None], [X, Y], most=200_000)
    want = scipy.stats.cauchy.ppf(0.975)
    assert (found.low, found.high) == pytest.approx((-want, want), rel=0.05)


@pytest.mark.parametrize("dof", [1.0, 2.0, 3.0, 9.5])
def test_few_degrees_of_freedom(dof: float) -> None:
    (found,) = propagate(lambda z: z, [Variate("X", dof=dof)], digits=1)
    want = scipy.stats.t(dof).ppf(0.975)
    assert (found.low, found.high) == pytest.approx((-want, want), rel=0.05)
    if dof <= 2.0:
        assert found.u == math.inf
    elif dof > 4.0:
        assert found.u == pytest.approx(math.sqrt(dof / (dof - 2.0)), rel=0.05)


def test_outputs_share_their_draws() -> None:
    one, two = propagate(lambda z: np.array([z[0], 2.0 * z[0] + 1.0]), [X])
    assert two.value == pytest.approx(2.0 * one.value + 1.0, abs=1e-6)
    assert two.high == pytest.approx(2.0 * one.high + 1.0, abs=1e-6)


def test_a_seed_makes_the_same_numbers_again() -> None:
    def run(seed: int) -> tuple[float, float, int]:
        (found,) = propagate(lambda z: z, [X], seed=seed)
        return found.low, found.u, found.draws

    assert run(3) == run(3)
    assert run(3)[0] != run(4)[0]


def test_what_does_not_settle_is_said() -> None:
    (found,) = propagate(lambda z: z, [X], tolerances=[1e-6], most=30_000)
    assert (found.draws, found.settled) == (30_000, False)
    (found,) = propagate(lambda z: z, [X], tolerances=[0.1])
    assert found.settled


def test_results_settle_to_what_was_asked() -> None:
    """Twice the standard deviation is within the tolerance: ends miss by more in 1 of 20 runs."""
    ends = [propagate(lambda z: z, [X], seed=s, tolerances=[0.05])[0].high for s in range(60)]
    missed = sum(abs(end - 1.959964) > 0.05 for end in ends)
    # Runs end early where the batches happen to agree: of 60, 15 allow for a chance of 0.1 each
    # with a probability of 4e-4 to fail.
    assert missed <= 15


@pytest.mark.parametrize(("low", "high"), [(None, 0.0), (-1.0, 1.0), (1.6449, None), (2.0, 3.0)])
def test_probability_between(low: float | None, high: float | None) -> None:
    (found,) = propagate(lambda z: z, [X], tolerances=[0.01])
    normal = scipy.stats.norm.cdf
    want = normal(math.inf if high is None else high) - normal(-math.inf if low is None else low)
    assert probability_between(found, lower=low, upper=high) == pytest.approx(want, abs=4e-3)


def test_probability_beyond_all_draws() -> None:
    (found,) = propagate(lambda z: z, [X], digits=1)
    assert probability_between(found, lower=50.0) == 0.0
    assert probability_between(found, lower=-50.0, upper=50.0) == 1.0


def test_drawing_is_most_of_the_time() -> None:
    """A small version of the benchmark; the bound there is 1.5."""
    assert min(cost(100_000) for _ in range(3)) < 2.5


def test_memory_stays_small() -> None:
    assert memory(1_000_000) < 20 * 2**20
