"""Difference of two scans on one grid."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import interp1d

from filmstress.errors import MeasurementRefused
from filmstress.scans.resample import bin_means
from filmstress.scans.subtraction import subtract

X = np.linspace(-40e-3, 40e-3, 801)


def wavy(x: np.ndarray) -> np.ndarray:
    return 1e-6 * np.sin(700.0 * x) + 0.4e-6 * np.cos(1900.0 * x)


def curvature(x: np.ndarray, z: np.ndarray) -> float:
    return 2.0 * float(np.polyfit(x, z, 2)[0])


def test_scans_on_the_same_points_subtract_point_by_point() -> None:
    x, dz, keep = subtract(X, wavy(X), None, X, wavy(X) + X**2, None)
    assert np.array_equal(x, X)
    np.testing.assert_allclose(dz, X**2, rtol=0, atol=1e-18)
    assert keep.all()


@pytest.mark.parametrize("reversed", [False, True])
@pytest.mark.parametrize("offset", [-2.345e-3, 0.0, 31.7e-6])
def test_the_wafer_cancels_where_the_scan_was_found(offset: float, reversed: bool) -> None:
    on_wafer = offset - X if reversed else offset + X
    x, dz, keep = subtract(
        X,
        wavy(X),
        None,
        X,
        wavy(on_wafer) + 0.1 * on_wafer**2,
        None,
        offset_m=offset,
        reversed=reversed,
    )
    assert np.all(np.diff(x) > 0.0)
    assert keep.all()
    # Straight lines between points err by at most step^2/8 times the second derivative.
    bound = (X[1] - X[0]) ** 2 / 8.0 * (1e-6 * 700.0**2 + 0.4e-6 * 1900.0**2 + 0.2)
    assert np.max(np.abs(dz - 0.1 * x**2)) < bound
    assert curvature(x, dz) == pytest.approx(0.2, rel=1e-4)


def test_the_points_are_those_of_the_coarser_scan_in_the_common_part() -> None:
    coarse = X[::3]
    x, dz, keep = subtract(X, X**2, None, coarse, 3.0 * coarse**2, None, offset_m=7.77e-3)
    on_wafer = coarse + 7.77e-3
    assert np.array_equal(x, on_wafer[on_wafer <= X[-1]])
    line = interp1d(X, X**2)
    np.testing.assert_allclose(dz, 3.0 * (x - 7.77e-3) ** 2 - line(x), atol=1e-18)
    assert keep.all()
    back, dz_back, _ = subtract(coarse, 3.0 * coarse**2, None, X, X**2, None, offset_m=-7.77e-3)
    np.testing.assert_allclose(back + 7.77e-3, x, atol=1e-17)
    np.testing.assert_allclose(dz_back, -dz, atol=1e-15)


def test_a_much_finer_scan_is_averaged() -> None:
    rng = np.random.default_rng(0)
    fine = np.linspace(-40e-3, 40e-3, 40_001)
    coarse = np.linspace(-39e-3, 39e-3, 401)
    noise = 10e-9
    z_fine = 2.0 * fine**2 + 1e-3 * fine + noise * rng.normal(size=fine.size)
    x, dz, keep = subtract(coarse, 0.0 * coarse, None, fine, z_fine, None)
    assert np.array_equal(x, coarse)
    assert keep.all()
    rest = dz - 2.0 * x**2 - 1e-3 * x
    step = coarse[1] - coarse[0]
    # The mean of a parabola of curvature k over a width w lies k w^2 / 24 above its middle.
    assert np.mean(rest) == pytest.approx(4.0 * step**2 / 24.0, abs=5.0 * noise / 10.0 / 20.0)
    # 97.5 points to a mean; the sd of 401 of them is known to 3.5 %.
    assert np.std(rest) == pytest.approx(noise / np.sqrt(97.5), rel=0.14)


def test_nothing_is_made_up_across_masks_and_gaps() -> None:
    keep_pre = np.ones(X.size, dtype=bool)
    keep_pre[100] = False
    keep_post = np.ones(X.size, dtype=bool)
    keep_post[300:310] = False
    there = np.ones(X.size, dtype=bool)
    there[500:503] = False  # a gap of four steps
    there[600] = False  # and one of two, which is bridged
    z_pre = np.where(keep_pre, 0.0, np.nan)
    x, dz, keep = subtract(
        X[there], z_pre[there], keep_pre[there], X, 0.0 * X + 1e-6, keep_post, offset_m=1e-6
    )
    assert np.all(dz[keep] == 1e-6)
    lost = X[(~np.isin(X + 1e-6, x[keep]))]
    expected = X[[99, 100, *range(300, 310), *range(499, 503)]]
    beyond_the_end = X[[-1]]
    np.testing.assert_array_equal(lost, np.sort(np.concatenate((expected, beyond_the_end))))


def test_a_point_on_a_kept_neighbour_needs_no_other() -> None:
    keep = np.ones(X.size, dtype=bool)
    keep[100] = False
    _, _, usable = subtract(X, X, keep, X, X, None)
    assert np.array_equal(usable, keep)


def test_averaging_leaves_out_bins_with_a_masked_point() -> None:
    fine = np.linspace(-40e-3, 40e-3, 8001)
    keep = np.ones(fine.size, dtype=bool)
    keep[4003] = False
    z = np.where(keep, 1e-6, np.nan)
    coarse = np.linspace(-30e-3, 30e-3, 61)
    x, dz, usable = subtract(coarse, 0.0 * coarse, None, fine, z, keep)
    assert np.array_equal(np.flatnonzero(~usable), [30])
    np.testing.assert_allclose(dz[usable], 1e-6, rtol=1e-9)
    assert np.isfinite(dz).all()
    assert x.size == 61


def test_too_little_in_common_is_refused() -> None:
    with pytest.raises(MeasurementRefused, match=r"30 mm in common") as caught:
        subtract(X, X, None, X, X, None, offset_m=50e-3)
    assert caught.value.code == "no-overlap"
    with pytest.raises(MeasurementRefused, match="0 mm in common"):
        subtract(X, X, None, X, X, None, offset_m=0.2)


@hypothesis_settings(max_examples=50)
@given(
    offset=st.floats(-20e-3, 20e-3),
    reversed=st.booleans(),
    every=st.sampled_from([1, 2, 7]),
    level=st.floats(-1e-3, 1e-3),
    tilt=st.floats(-1e-2, 1e-2),
)
def test_lines_pass_unchanged(
    offset: float, reversed: bool, every: int, level: float, tilt: float
) -> None:
    rng = np.random.default_rng(1)
    pre = np.sort(rng.uniform(-40e-3, 40e-3, 600))
    post = X[::every]
    on_wafer = offset - post if reversed else offset + post
    x, dz, keep = subtract(
        pre,
        tilt * pre,
        None,
        post,
        level + 2.0 * tilt * on_wafer,
        None,
        offset_m=offset,
        reversed=reversed,
    )
    np.testing.assert_allclose(dz[keep], level + tilt * x[keep], atol=1e-14)


def test_bin_means_are_integrals_of_the_straight_lines() -> None:
    rng = np.random.default_rng(2)
    x = np.sort(rng.uniform(0.0, 1.0, 40))
    z = 1e3 + rng.normal(size=40)
    low = np.array([-0.1, 0.05, 0.21, 0.4, 0.4])
    high = np.array([0.02, 0.3, 0.22, 0.9, 1.2])
    keep = np.ones(40, dtype=bool)
    mean, share = bin_means(x, z, keep, low, high)
    gaps = np.flatnonzero(np.diff(x) > 3.0 * np.median(np.diff(x)))
    for i, (begin, end) in enumerate(zip(low, high, strict=True)):
        area = covered = 0.0
        for k in range(39):
            left, right = max(begin, x[k]), min(end, x[k + 1])
            if right > left and k not in gaps:
                area += quad(lambda at: np.interp(at, x, z), left, right)[0]
                covered += right - left
        assert share[i] == pytest.approx(covered / (end - begin), abs=1e-12)
        if covered:
            assert mean[i] == pytest.approx(area / covered, rel=1e-11)


def test_cost_grows_in_proportion_to_the_points() -> None:
    def cost(points: int) -> float:
        x = np.linspace(-40e-3, 40e-3, points)
        keep = np.ones(points, dtype=bool)
        keep[::1000] = False
        times = []
        for _ in range(5):
            begin = time.process_time()
            subtract(x, x, keep, x, x, keep, offset_m=12.3e-6)
            times.append(time.process_time() - begin)
        return min(times)

    assert cost(1_000_000) < 20.0 * cost(100_000)
