"""Thinning for drawing keeps what the eye must see."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.report.figures.curves import Curve
from filmstress.report.figures.thinning import envelope, kept_line, masked_points, running_mean

heights = st.lists(
    st.one_of(st.floats(-1e-3, 1e-3), st.just(float("nan"))), min_size=1, max_size=400
)


@given(heights, st.integers(1, 60))
def test_extremes_stay_and_nothing_is_invented(z, bins):
    z = np.array(z)
    x = np.arange(z.size, dtype=float)
    thin_x, thin_z = envelope(x, z, bins=bins)
    assert thin_x.size <= 2 * bins
    assert (np.diff(thin_x) > 0).all()
    np.testing.assert_array_equal(thin_z, z[thin_x.astype(int)])
    if np.isfinite(z).any():
        assert np.nanmax(thin_z) == np.nanmax(z)
        assert np.nanmin(thin_z) == np.nanmin(z)


@given(st.integers(1, 5000), st.integers(1, 100))
def test_every_stretch_keeps_its_own_extremes(n, bins):
    z = np.random.default_rng(n).standard_normal(n)
    x = np.arange(n, dtype=float)
    thin_x, thin_z = envelope(x, z, bins=bins)
    size = -(-n // bins)
    for start in range(0, n, size):
        here = (thin_x >= start) & (thin_x < start + size)
        assert thin_z[here].max() == z[start : start + size].max()
        assert thin_z[here].min() == z[start : start + size].min()


def test_a_wide_masked_stretch_stays_open():
    x = np.linspace(0.0, 1.0, 10_001)
    keep = (x < 0.4) | (x > 0.5)
    line_x, line_z = kept_line(Curve(x, np.zeros(x.size), keep), bins=200)
    inside = (line_x > 0.41) & (line_x < 0.49)
    assert inside.any()
    assert np.isnan(line_z[inside]).all()


def test_a_gap_in_the_scan_is_not_bridged():
    x = np.concatenate([np.linspace(0.0, 1.0, 101), np.linspace(2.0, 3.0, 101)])
    line_x, line_z = kept_line(Curve(x, np.ones(x.size), np.ones(x.size, bool)), bins=200)
    (gap,) = np.flatnonzero(np.isnan(line_z))
    assert line_x[gap - 1] == 1.0
    assert line_x[gap + 1] == 2.0


def test_few_masked_points_are_all_there_and_many_are_thinned():
    x = np.linspace(0.0, 1.0, 5001)
    z = np.sin(20.0 * x)
    few, many = np.ones(x.size, bool), np.zeros(x.size, bool)
    few[[5, 6, 7, 900]] = False
    np.testing.assert_array_equal(masked_points(Curve(x, z, few), most=60)[0], x[[5, 6, 7, 900]])
    thin_x, thin_z = masked_points(Curve(x, z, many), most=60)
    assert 30 < thin_x.size <= 60
    assert thin_z.max() == z.max()


@given(st.integers(2, 200), st.floats(0.01, 0.5), st.integers(2, 40))
def test_running_mean_is_the_mean_of_the_points_in_the_window(n, width, points):
    rng = np.random.default_rng(n)
    x = np.sort(rng.uniform(0.0, 1.0, n))
    z = rng.standard_normal(n)
    places, mean = running_mean(x, z, width=width, points=points)
    assert places[0] == x[0]
    for place, value in zip(places, mean, strict=True):
        inside = (x >= place - 0.5 * width) & (x <= place + 0.5 * width)
        if inside.any():
            assert value == pytest.approx(z[inside].mean(), abs=1e-9)
        else:
            assert np.isnan(value)
