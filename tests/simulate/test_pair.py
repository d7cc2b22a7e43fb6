"""What a pair of scans holds: the wafer, the stage, the noise and every trouble, each by itself."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from filmstress.errors import RefusedInput
from filmstress.simulate.pair import simulate_pair, simulate_wafer
from filmstress.simulate.truth import ScanConditions
from tests.simulate.truths import quiet

NOISY = quiet(
    waviness_rms_m=80e-9,
    stage_rms_m=40e-9,
    white_noise_m=4e-9,
    correlated_noise_m=6e-9,
    walk_m=5e-9,
    bow_repeatability_m=15e-9,
    offset_repeatability_m=1e-4,
    line_repeatability_m=1e-4,
    pre=ScanConditions(dust_count=2),
    post=ScanConditions(dust_count=3, blank_count=4, wild_count=5),
)


def bare(**changes):
    """A wafer that its film does not bend."""
    return quiet(stress_x_pa=0.0, **changes)


def test_same_seed_draws_the_same_scans():
    one, two = simulate_pair(NOISY, seed=7), simulate_pair(NOISY, seed=7)
    for name in ("pre_trace", "post_trace"):
        assert getattr(one, name).z.tobytes() == getattr(two, name).z.tobytes()
    assert one.offset_m == two.offset_m
    assert simulate_pair(replace(NOISY, seed=7)).pre.z.tobytes() == one.pre.z.tobytes()
    assert simulate_pair(NOISY, seed=8).pre.z.tobytes() != one.pre.z.tobytes()


def test_lines_and_repeats_are_drawn_apart_from_each_other():
    truth = replace(NOISY, azimuths_rad=(0.0, 0.5 * math.pi))
    pairs = simulate_wafer(truth, repeats=2)
    assert [(pair.azimuth_rad, pair.repeat) for pair in pairs] == [
        (0.0, 0),
        (0.0, 1),
        (0.5 * math.pi, 0),
        (0.5 * math.pi, 1),
    ]
    alone = simulate_pair(truth, azimuth_rad=0.5 * math.pi, repeat=1)
    assert alone.post.z.tobytes() == pairs[3].post.z.tobytes()
    assert len({pair.pre.z.tobytes() for pair in pairs}) == 4


def test_a_trouble_leaves_all_else_where_it_was():
    clean = simulate_pair(replace(NOISY, post=ScanConditions()))
    dusty = simulate_pair(replace(NOISY, post=ScanConditions(dust_count=1)))
    moved = dusty.post.z != clean.post.z
    assert 0 < np.count_nonzero(moved) <= 4  # 300 um at most, points 100 um apart
    assert dusty.pre.z.tobytes() == clean.pre.z.tobytes()


def test_waviness_cancels_between_the_states_and_noise_does_not():
    truth = bare(waviness_rms_m=80e-9)
    pair = simulate_pair(truth)
    assert np.ptp(pair.pre.z) > 80e-9
    np.testing.assert_array_equal(pair.pre.z, pair.post.z)
    noisy = simulate_pair(replace(truth, white_noise_m=4e-9))
    assert np.std(noisy.post.z - noisy.pre.z) == pytest.approx(4e-9 * math.sqrt(2.0), rel=0.1)


def test_offset_shifts_the_wafer_by_parts_of_a_sample():
    # The points lie 0.1 mm apart; a scan with points 0.05 mm apart shows what lies between them.
    truth = bare(waviness_rms_m=80e-9, bare_bow_m=10e-6)
    fine = simulate_pair(replace(truth, points=1801)).pre.z
    pair = simulate_pair(replace(truth, post=ScanConditions(lateral_offset_m=0.35e-3)))
    assert pair.offset_m == pytest.approx(0.35e-3)
    np.testing.assert_allclose(pair.post.z[:-4], fine[7:-1:2], atol=1e-17, rtol=1e-9)


def test_offset_leaves_the_stage_where_it_is():
    truth = bare(stage_rms_m=40e-9)
    pair = simulate_pair(replace(truth, post=ScanConditions(lateral_offset_m=0.35e-3)))
    assert np.ptp(pair.pre.z) > 40e-9
    np.testing.assert_array_equal(pair.post.z, pair.pre.z)


def test_stage_is_shared_by_wafers_and_waviness_is_not():
    truth = bare(stage_rms_m=40e-9)
    other = simulate_pair(truth, seed=99)
    np.testing.assert_array_equal(simulate_pair(truth).pre.z, other.pre.z)
    assert np.any(simulate_pair(replace(truth, stage_seed=1)).pre.z != other.pre.z)
    wavy = bare(waviness_rms_m=40e-9)
    assert np.any(simulate_pair(wavy).pre.z != simulate_pair(wavy, seed=99).pre.z)


def test_reversed_scan_reads_the_wafer_from_its_other_end():
    truth = bare(waviness_rms_m=80e-9)
    how = ScanConditions(reversed=True, lateral_offset_m=0.2e-3)
    pair = simulate_pair(replace(truth, post=how))
    assert pair.reversed
    assert pair.offset_m == pytest.approx(0.2e-3)
    # A post point at x from the centre lies on the wafer at offset - x.
    np.testing.assert_allclose(pair.post.z[::-1][:-2], pair.pre.z[2:], atol=1e-17, rtol=1e-9)


def test_reversed_scan_lies_on_the_same_stage():
    truth = bare(stage_rms_m=40e-9, post=ScanConditions(reversed=True))
    pair = simulate_pair(truth)
    np.testing.assert_array_equal(pair.post.z, pair.pre.z)


@pytest.mark.parametrize("pre_turned", [False, True])
@pytest.mark.parametrize("post_turned", [False, True])
def test_offset_is_counted_from_the_place_of_the_pre_scan(pre_turned, post_turned):
    truth = bare(
        waviness_rms_m=80e-9,
        pre=ScanConditions(reversed=pre_turned, lateral_offset_m=0.5e-3),
        post=ScanConditions(reversed=post_turned, lateral_offset_m=-0.3e-3),
    )
    pair = simulate_pair(truth)
    x = pair.pre.x - 45e-3
    on_pre = pair.offset_m + (-x if pair.reversed else x)
    assert pair.reversed is (pre_turned != post_turned)
    inside = (on_pre > x[0]) & (on_pre < x[-1])
    # The waviness is smooth over 3 mm: between points 0.1 mm apart a straight line errs by less
    # than (0.1 mm)^2/8 times its second derivative, of order 80 nm/(3 mm)^2 sqrt(3).
    there = np.interp(on_pre[inside], x, pair.pre.z)
    np.testing.assert_allclose(pair.post.z[inside], there, atol=0.15e-9)


def test_lines_cross_in_the_middle_of_the_wafer():
    truth = bare(waviness_rms_m=80e-9, azimuths_rad=(0.0, 1.0, 2.0))
    middles = [pair.pre.z[450] for pair in simulate_wafer(truth)]
    np.testing.assert_allclose(middles, middles[0], rtol=1e-12)


def test_line_beside_its_place_meets_the_crossing_line_there():
    truth = bare(waviness_rms_m=80e-9, pre=ScanConditions(sideways_m=2e-3))
    beside = simulate_pair(truth).pre.z[450]
    # Left of azimuth 0 is azimuth 90 deg: 2 mm along it is 20 points from the middle.
    crossing = simulate_pair(truth, azimuth_rad=0.5 * math.pi).post.z[450 + 20]
    assert beside == pytest.approx(crossing, rel=1e-9)


def test_tilt_height_offset_and_drift():
    how = ScanConditions(tilt_rad=1e-4, height_offset_m=3e-6, drift_m=2e-6)
    z = simulate_pair(bare(pre=how)).pre.z
    assert z[450] == pytest.approx(3e-6 + 0.25 * 2e-6)
    assert z[-1] - z[0] == pytest.approx(1e-4 * 90e-3 + 2e-6)


def test_scales_are_those_of_the_file_over_the_truth():
    true, read = quiet(points=91), quiet(points=91, position_scale=1.01, height_scale=0.98)
    file, wafer = simulate_pair(read), simulate_pair(true)
    np.testing.assert_array_equal(file.post.x, wafer.post.x)
    rise = [pair.post.z - pair.pre.z for pair in (file, wafer)]
    # z = kappa x^2/2: what the file shows is 0.98 times the height at a place 1/1.01 as far out.
    np.testing.assert_allclose(rise[0], rise[1] * 0.98 / 1.01**2, rtol=1e-9, atol=1e-20)


def test_height_step_rounds():
    z = simulate_pair(quiet(white_noise_m=20e-9, height_step_m=5e-9)).post.z / 5e-9
    np.testing.assert_allclose(z, np.rint(z), atol=1e-6)
    assert np.unique(np.rint(z)).size > 100


def test_position_starts_where_the_file_says():
    pair = simulate_pair(quiet(first_x_m=10e-3))
    assert pair.pre.x[0] == 10e-3
    assert pair.pre.length == pytest.approx(90e-3)


def test_particles_stand_on_the_scan():
    how = ScanConditions(dust_count=5, dust_height_m=3e-6, dust_width_m=1e-3)
    z = simulate_pair(bare(post=how, points=9001)).post.z
    on = np.concatenate(([False], z > 0.0, [False]))
    starts, ends = (
        np.flatnonzero(np.diff(on.astype(int)) == 1),
        np.flatnonzero(np.diff(on.astype(int)) == -1),
    )
    assert z.min() == 0.0
    assert starts.size == 5
    peaks = [z[start:end].max() for start, end in zip(starts, ends, strict=True)]
    assert min(peaks) >= 0.3 * 3e-6 * 0.999
    assert max(peaks) <= 3e-6
    widths = (ends - starts) * 1e-5
    assert np.all((widths > 0.45e-3) & (widths <= 1.5e-3))


def test_particle_narrower_than_the_spacing_is_still_met():
    how = ScanConditions(dust_count=3, dust_width_m=1e-6)
    assert np.count_nonzero(simulate_pair(bare(post=how)).post.z) == 3


def test_blank_and_wild_points():
    how = ScanConditions(blank_count=12, wild_count=7, wild_height_m=20e-6)
    pair = simulate_pair(bare(post=how))
    trace = pair.post_trace
    assert np.count_nonzero(np.isnan(trace.z)) == 12
    assert np.count_nonzero(np.abs(trace.z) == 20e-6) == 7
    assert pair.post.x.size == 901 - 12
    assert np.all(np.isfinite(pair.post.z))
    assert pair.post.source.rows == 901
    (left_out,) = pair.post.source.left_out
    assert left_out.count == 12
    assert np.isnan(trace.z[left_out.first_line - 1])
    assert not np.isnan(trace.z[: left_out.first_line - 1]).any()


# Noise: each by itself, over many points or many scans.


def test_white_noise():
    z = simulate_pair(bare(white_noise_m=4e-9, points=20001)).pre.z / 4e-9
    # Of 20001 normal values: relative standard error of the sd 0.5 %, of a correlation 0.7 %.
    assert np.std(z) == pytest.approx(1.0, abs=0.02)
    assert np.mean(z[1:] * z[:-1]) == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize("points", [1001, 4001])
def test_correlated_noise_has_one_covariance_at_any_spacing(points):
    # An average over a length L of z^2, or of z(x) z(x + l), has variance 2 l/L or less for this
    # covariance; l/L = 0.01 and 40 scans: four standard errors are 4 sqrt(0.02/40) = 0.089.
    truth = bare(
        correlated_noise_m=6e-9, correlation_length_m=0.9e-3, points=points, scan_length_m=90e-3
    )
    lag = (points - 1) // 100
    z = np.array([simulate_pair(truth, repeat=repeat).pre.z for repeat in range(40)]) / 6e-9
    assert np.mean(z**2) == pytest.approx(1.0, abs=0.089)
    assert np.mean(z[:, lag:] * z[:, :-lag]) == pytest.approx(math.exp(-1.0), abs=0.089)


def test_random_walk_and_bow_spread_as_stated():
    truth = bare(walk_m=10e-9, points=101)
    repeats = range(400)
    ends = np.array([simulate_pair(truth, repeat=repeat).pre.z for repeat in repeats]) / 10e-9
    # Relative standard error of a standard deviation from 400: 1/sqrt(800) = 3.5 %.
    assert np.std(ends[:, -1]) == pytest.approx(1.0, abs=4 * 0.0354)
    assert np.std(ends[:, 25]) == pytest.approx(0.5, abs=4 * 0.5 * 0.0354)
    bowed = bare(bow_repeatability_m=15e-9, points=101)
    z = np.array([simulate_pair(bowed, repeat=repeat).pre.z for repeat in repeats]) / 15e-9
    bow = 0.5 * (z[:, 0] + z[:, -1]) - z[:, 50]
    assert np.std(bow) == pytest.approx(1.0, abs=4 * 0.0354)


def test_places_spread_as_stated():
    truth = bare(offset_repeatability_m=1e-4, points=11)
    offsets = [simulate_pair(truth, repeat=repeat).offset_m for repeat in range(400)]
    assert np.std(offsets) == pytest.approx(math.sqrt(2.0) * 1e-4, rel=4 * 0.0354)


# What cannot be drawn.


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"points": 9}, r"points: 9 came; want at least 10"),
        ({"points": 100.0}, r"points: 100.0 came; want a whole number"),
        ({"scan_length_m": 0.2}, r"scan_length_m: 0.2 came; want at most the diameter, 0.1 m"),
        ({"film_thickness_m": 0.0}, r"film_thickness_m: 0.0 came; want a number above 0"),
        ({"stress_x_pa": math.nan}, r"stress_x_pa: nan came; want a finite number"),
        ({"stress_y_pa": math.inf}, r"stress_y_pa: inf came; want a finite number"),
        ({"white_noise_m": -1e-9}, r"white_noise_m: -1e-09 came; want 0 or more"),
        ({"white_noise_m": "4 nm"}, r"white_noise_m: '4 nm' came; want a number"),
        ({"seed": -1}, r"seed: -1 came; want a whole number, 0 or more"),
        ({"azimuths_rad": ()}, r"azimuths_rad: \(\) came; want one finite angle or more"),
        (
            {"post": ScanConditions(blank_count=500)},
            r"post.blank_count.*500 came; want at most half",
        ),
    ],
)
def test_truth_that_cannot_be_drawn_is_refused(changes, words):
    with pytest.raises(RefusedInput, match=words):
        quiet(**changes)


def test_conditions_that_cannot_be_are_refused():
    with pytest.raises(RefusedInput, match="dust_count: -1 came; want a whole number"):
        ScanConditions(dust_count=-1)
    with pytest.raises(RefusedInput, match=r"dust_width_m: 0\.0 came; want a number above 0"):
        ScanConditions(dust_width_m=0.0)


def test_repeat_below_zero_is_refused():
    with pytest.raises(RefusedInput, match="repeat: -1 came; want 0 or more"):
        simulate_pair(quiet(), repeat=-1)
