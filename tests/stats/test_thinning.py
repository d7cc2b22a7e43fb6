"""Few points that stand for many."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.stats.thinning import telling_points


@given(st.lists(st.floats(-1e-3, 1e-3), min_size=1, max_size=900), st.integers(1, 60))
def test_extremes_and_ends_stay_and_each_point_once(values, stretches):
    values = np.array(values)
    chosen = telling_points(values, stretches=stretches)
    assert chosen.size <= max(values.size, 3 * stretches + 2)
    assert (np.diff(chosen) > 0).all()
    assert chosen[0] == 0
    assert chosen[-1] == values.size - 1
    assert values[chosen].max() == values.max()
    assert values[chosen].min() == values.min()


def test_a_single_spike_among_many_stays():
    values = np.random.default_rng(1).standard_normal(50_000)
    values[31_234] = 9.0
    assert 31_234 in telling_points(values, stretches=100)


@pytest.mark.parametrize("n", [1500, 40_000])
def test_a_running_mean_of_the_few_points_still_shows_the_trend(n):
    rng = np.random.default_rng(2)
    trend = np.sin(np.linspace(0.0, 9.0, n))
    values = trend + 0.3 * rng.standard_normal(n)
    chosen = telling_points(values, stretches=100)
    shown = np.convolve(values[chosen], np.ones(15) / 15.0, "valid")
    # Fifteen points at random would leave 0.3 / sqrt(15) = 0.077.
    assert np.sqrt(np.mean((shown - trend[chosen][7:-7]) ** 2)) < 0.06
