"""Registration: where the scan after deposition lies on the scan before it."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from scipy import stats
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize_scalar

from filmstress.errors import MeasurementRefused
from filmstress.scans.correlation import chance, chance_level, effective_tries
from filmstress.scans.placing import SharedStage
from filmstress.scans.registration import LOW_MATCH, register, register_textures
from filmstress.scans.texture import prepare
from tests.benchmarks.registration_pairs import Kind, Pair, draw_pair
from tests.benchmarks.registration_study import KINDS, OTHER, SAME, study

PLAIN = replace(SAME, points=3000, offset_m=0.7e-3, reversed_share=0.0)


def one(kind: Kind = PLAIN, seed: int = 0) -> Pair:
    return draw_pair(kind, np.random.default_rng(seed))


def found(pair: Pair, **options: object):
    return register(pair.x, pair.z_pre, pair.x, pair.z_post, **options)


# How often, how well: a small version of tests.benchmarks.registration_study.


@pytest.mark.parametrize(
    "name", ["same line, datum known", "same line, white noise 20 %", "same line, power law"]
)
def test_offsets_scatter_as_stated(name: str) -> None:
    row = study(name, pairs=150, seed=11)
    assert row.found == 1.0
    # 95 % expected: 150 pairs fall below 132 covered with a probability of 1e-3.
    assert row.covered * row.pairs >= stats.binom.ppf(1e-3, 150, 0.95)
    # u comes from about 20 to 30 degrees of freedom, whose t spreads by 1.05: sum of squares
    # over 1.05^2 is chi-squared with 150 dof, which exceeds 210 with a probability of 1e-3.
    assert row.scatter**2 * row.pairs < 1.05**2 * stats.chi2.ppf(0.999, 150)


@pytest.mark.parametrize(
    ("name", "least"),
    [
        ("same line", 0.98),
        ("same line, correlated noise 20 %", 0.9),
        # A stage as wavy as the wafer may hide or double the peak, yet not halve the hits.
        ("same line, wavy stage", 0.5),
        ("same line, wavy stage, waviness 1 mm", 0.9),
        ("same line, wavy stage, 0.5 mm", 0.95),
    ],
)
def test_the_same_line_is_found(name: str, least: float) -> None:
    row = study(name, pairs=60, seed=12)
    # If the true share is `least`, fewer are found once in a thousand.
    assert row.found * row.pairs >= stats.binom.ppf(1e-3, 60, least)
    assert row.wrong * row.pairs <= stats.binom.ppf(0.999, 60, 0.02)


def test_the_same_line_matches() -> None:
    row = study("same line", pairs=60, seed=13)
    assert row.match_05 > 0.95
    assert row.low == 0.0


def test_another_line_of_the_same_wafer_lies_between() -> None:
    row = study("line beside, 0.8, datum known", pairs=60, seed=14)
    # The shared part of the variance is 0.81 by construction.
    assert row.match_50 == pytest.approx(0.81, abs=0.1)
    assert row.match_05 < 0.75


@pytest.mark.parametrize("name", [name for name in KINDS if name.startswith("other wafer")])
def test_another_wafer_hardly_matches_whatever_the_stage(name: str) -> None:
    row = study(name, pairs=60, seed=15)
    # At most one in twenty above one half: more than 8 of 60 once in a thousand.
    assert row.over_half * row.pairs <= stats.binom.ppf(0.999, 60, 0.05)


@pytest.mark.parametrize("name", [name for name in KINDS if name.endswith(("12 mm", "20 mm"))])
def test_waves_longer_than_a_tenth_of_the_scan_prove_nothing(name: str) -> None:
    # Their form leaks from the ends of any scan into all frequencies, alike on any wafer.
    row = study(name, pairs=60, seed=17)
    assert row.texture * row.pairs <= stats.binom.ppf(0.999, 60, 0.05)


def test_a_wafer_in_its_old_place_is_not_looked_for_elsewhere() -> None:
    row = study("same line, in its place, drift", pairs=100, seed=18)
    # Wrong in at most one of a hundred: more than 5 of 100 once in a thousand or less.
    assert row.wrong * row.pairs <= stats.binom.ppf(0.999, 100, 0.01)
    assert row.found > 0.9


def test_nothing_but_noise_has_no_texture() -> None:
    row = study("no waviness", pairs=60, seed=16)
    assert row.texture * row.pairs <= stats.binom.ppf(0.999, 60, 0.05)
    assert row.found == row.wrong == 0.0


# One pair at a time.


def test_better_than_a_tenth_of_a_sample() -> None:
    for seed in range(8):
        pair = one(replace(PLAIN, offset_m=None), seed)
        error = found(pair).offset_m - pair.offset_m
        assert abs(error) < 0.1 * (pair.x[1] - pair.x[0])


def test_agrees_with_a_search_for_the_least_misfit() -> None:
    pair = one()
    # Smoothed first: else the spline's own smoothing of noise between points would attract it.
    pre, post = (np.convolve(z, np.ones(15) / 15.0, "same") for z in (pair.z_pre, pair.z_post))
    spline = CubicSpline(pair.x, pre)
    inside = np.abs(pair.x) < 48e-3

    def misfit(offset: float) -> float:
        rest = post[inside] - spline(pair.x[inside] + offset)
        t = pair.x[inside] / 50e-3
        return float(np.sum((rest - np.polyval(np.polyfit(t, rest, 5), t)) ** 2))

    least = minimize_scalar(misfit, bounds=(0.65e-3, 0.75e-3), method="bounded").x
    result = found(pair)
    assert result.offset_m == pytest.approx(least, abs=result.u_offset_m)


@pytest.mark.parametrize("offset", [-3.3e-3, 0.0, 0.4e-3, 4.6e-3])
def test_a_scan_from_the_other_end(offset: float) -> None:
    pair = one(replace(PLAIN, offset_m=offset, reversed_share=1.0))
    result = found(pair)
    assert result.reversed
    assert result.offset_m == pytest.approx(offset, abs=5.0 * result.u_offset_m)
    on_wafer = result.on_wafer(pair.x)
    assert on_wafer[0] > on_wafer[-1]
    assert on_wafer[100] == pytest.approx(offset - pair.x[100], abs=5.0 * result.u_offset_m)


def test_reversal_can_be_ruled_out() -> None:
    pair = one(replace(PLAIN, reversed_share=1.0))
    result = found(pair, allow_reversed=False)
    assert not result.determined
    assert result.offset_m == 0.0
    assert result.u_offset_m == pytest.approx(5e-3 / np.sqrt(3.0))
    assert result.match < LOW_MATCH


def test_different_sampling_and_extent() -> None:
    pair = one(replace(PLAIN, points=6000))
    rng = np.random.default_rng(1)
    sparse = np.sort(rng.choice(4500, 1100, replace=False)) + 1200
    result = register(pair.x, pair.z_pre, pair.x[sparse], pair.z_post[sparse])
    assert result.determined
    assert result.offset_m == pytest.approx(0.7e-3, abs=5.0 * result.u_offset_m)
    assert result.u_offset_m < 20e-6


def test_gaps_and_masked_dust() -> None:
    pair = one()
    rng = np.random.default_rng(2)
    pre, post = pair.z_pre.copy(), pair.z_post.copy()
    keep_pre, keep_post = np.ones((2, pair.x.size), dtype=bool)
    for start in rng.integers(0, pair.x.size - 20, 25):
        pre[start : start + 10] = np.nan
        keep_pre[start : start + 10] = False
    post[700:720] += 4e-6
    keep_post[700:720] = False
    there = np.ones(pair.x.size, dtype=bool)
    there[1500:1700] = False
    result = register(
        pair.x,
        pre,
        pair.x[there],
        post[there],
        keep_pre=keep_pre,
        keep_post=keep_post[there],
    )
    assert result.match > 0.9
    assert result.offset_m == pytest.approx(0.7e-3, abs=5.0 * result.u_offset_m)
    assert result.u_offset_m < 20e-6


def test_dust_at_one_place_of_the_stage_does_not_decide() -> None:
    pair = one(replace(PLAIN, offset_m=2e-3))
    pre, post = pair.z_pre.copy(), pair.z_post.copy()
    for start in (300, 1111, 1640, 2300):
        pre[start : start + 6] += 3e-6
        post[start : start + 6] += 3e-6
    result = register(pair.x, pre, pair.x, post)
    assert result.determined
    assert abs(result.offset_m - 2e-3) < max(0.1e-3, 3.0 * result.u_offset_m)


def test_the_stage_in_other_coordinates() -> None:
    # A post scan whose direction was stated as reversed is mirrored before it comes here, and an
    # origin 1.5 mm off moves the place where both stood alike.
    kind = replace(OTHER, stage_m=200e-9, reversed_share=0.0, points=3000)
    low = 0
    for seed in range(20):
        pair = one(kind, seed)
        x_post, z_post = 1.5e-3 - pair.x[::-1], pair.z_post[::-1]
        stage = SharedStage(offset_m=1.5e-3, reversed=True)
        seen = register(pair.x, pair.z_pre, x_post, z_post, stage=stage)
        plain = register(pair.x, pair.z_pre, x_post, z_post, stage=None)
        assert seen.match <= plain.match + 0.2
        # Not told of the stage, different wafers match where the stage does.
        assert plain.reversed or not plain.determined
        low += seen.match < plain.match
    assert low >= 15


@pytest.mark.parametrize("apart", [0.2, -0.2])
def test_no_overlap_is_refused(apart: float) -> None:
    pair = one()
    with pytest.raises(MeasurementRefused, match="overlap by less than half") as caught:
        register(pair.x, pair.z_pre, pair.x + apart, pair.z_post)
    assert caught.value.code == "no-overlap"
    assert "origin" in caught.value.hint


@pytest.mark.parametrize("kept", [0.0, 0.3])
def test_hardly_anything_usable_in_common_is_not_taken_for_scans_apart(kept: float) -> None:
    pair = one()
    place = (pair.x - pair.x[0]) / (pair.x[-1] - pair.x[0])
    with pytest.raises(MeasurementRefused, match="dust") as caught:
        found(pair, keep_pre=place < kept, keep_post=place > 1.0 - kept)
    assert caught.value.code == "too-few-points"


def test_a_regular_wave_alone_does_not_fix_a_place() -> None:
    x = np.linspace(-50e-3, 50e-3, 3000)
    rng = np.random.default_rng(3)
    wave = 100e-9 * np.sin(2.0 * np.pi * x / 4e-3)
    pre, post = wave + 1e-9 * rng.normal(size=(2, x.size))
    assert not register(x, pre, x, post, stage=None).determined


@pytest.mark.parametrize("heights", ["flat", "level", "bowl"])
def test_ideal_shapes_have_no_texture(heights: str) -> None:
    x = np.linspace(-50e-3, 50e-3, 2000)
    z = {"flat": 0.0 * x, "level": 0.0 * x + 1.0, "bowl": x**2}[heights]
    result = register(x, z, x, 2.0 * z)
    assert not result.texture
    assert not result.determined


def test_a_lot_is_sorted_out() -> None:
    kinds = [replace(PLAIN, offset_m=None, stage_m=50e-9, points=2000) for _ in range(10)]
    pairs = [one(kind, seed) for seed, kind in enumerate(kinds)]
    before = [prepare(pair.x, pair.z_pre) for pair in pairs]
    after = [prepare(pair.x, pair.z_post) for pair in pairs]
    match = np.array([[register_textures(a, b).match for b in after] for a in before])
    assert np.array_equal(match.argmax(axis=0), np.arange(10))
    assert match.diagonal().min() > LOW_MATCH
    others = match[~np.eye(10, dtype=bool)]
    # At most one in twenty of the 90 unlike pairs above one half: more than 12 once in a thousand.
    assert np.sum(others > 0.5) <= stats.binom.ppf(0.999, 90, 0.05)


# What must hold for all inputs.

SHIFTS = st.floats(-3e-3, 3e-3)


@hypothesis_settings(max_examples=15)
@given(moved=SHIFTS, seed=st.integers(0, 5))
def test_moving_the_post_scan_moves_the_offset_back(moved: float, seed: int) -> None:
    pair = one(replace(PLAIN, offset_m=0.1e-3), seed)
    here = found(pair, stage=None)
    there = register(pair.x, pair.z_pre, pair.x + moved, pair.z_post, stage=None)
    assert there.offset_m == pytest.approx(here.offset_m - moved, abs=1e-9)
    assert there.match == pytest.approx(here.match, abs=1e-6)


@hypothesis_settings(max_examples=15)
@given(
    level=st.floats(-1e-3, 1e-3),
    tilt=st.floats(-5e-3, 5e-3),
    curvature=st.floats(-0.5, 0.5),
    seed=st.integers(0, 5),
)
def test_form_changes_nothing(level: float, tilt: float, curvature: float, seed: int) -> None:
    pair = one(seed=seed)
    form = level + tilt * pair.x + 0.5 * curvature * pair.x**2
    here = found(pair)
    there = register(pair.x, pair.z_pre, pair.x, pair.z_post + form)
    assert there.offset_m == pytest.approx(here.offset_m, abs=1e-10)
    assert there.u_offset_m == pytest.approx(here.u_offset_m, rel=1e-3)


@hypothesis_settings(max_examples=15)
@given(factor=st.floats(1e-6, 1e6), seed=st.integers(0, 5))
def test_the_scale_of_the_heights_changes_nothing(factor: float, seed: int) -> None:
    pair = one(seed=seed)
    here = found(pair)
    there = register(pair.x, factor * pair.z_pre, pair.x, factor * pair.z_post)
    assert there.offset_m == pytest.approx(here.offset_m, abs=1e-10)
    assert there.match == pytest.approx(here.match, abs=1e-6)


@hypothesis_settings(max_examples=15)
@given(factor=st.floats(1e-3, 1e3), seed=st.integers(0, 5))
def test_the_scale_of_the_lengths_scales_the_offset(factor: float, seed: int) -> None:
    pair = one(seed=seed)
    here = found(pair)
    there = register(
        factor * pair.x, pair.z_pre, factor * pair.x, pair.z_post, search_m=5e-3 * factor
    )
    assert there.offset_m == pytest.approx(
        factor * here.offset_m, abs=factor * (1e-7 + here.u_offset_m)
    )


@hypothesis_settings(max_examples=15)
@given(offset=SHIFTS, seed=st.integers(0, 5))
def test_swapping_the_scans_negates_the_offset(offset: float, seed: int) -> None:
    pair = one(replace(PLAIN, offset_m=offset), seed)
    back = register(pair.x, pair.z_post, pair.x, pair.z_pre)
    assert back.offset_m == pytest.approx(-found(pair).offset_m, abs=1e-9)


@hypothesis_settings(max_examples=15)
@given(offset=SHIFTS, seed=st.integers(0, 5))
def test_mirroring_the_post_scan_is_seen_as_reversal(offset: float, seed: int) -> None:
    pair = one(replace(PLAIN, offset_m=offset), seed)
    here = found(pair, stage=None)
    there = register(pair.x, pair.z_pre, -pair.x[::-1], pair.z_post[::-1], stage=None)
    assert here.reversed != there.reversed
    # The grid starts from the other end, so the noise falls into other bins.
    assert there.offset_m == pytest.approx(here.offset_m, abs=here.u_offset_m)


# Chance.


@pytest.mark.parametrize("looks", [12, 30, 100])
@pytest.mark.parametrize("correlation", [0.3, 0.6, 0.9])
def test_chance_bounds_the_exact_tail_of_a_correlation(looks: int, correlation: float) -> None:
    # Student's t of a correlation of n pairs of normal numbers, means known (textbook).
    t = correlation * np.sqrt((looks - 1) / (1.0 - correlation**2))
    exact = stats.t.sf(t, looks - 1)
    ours = chance(correlation, looks=looks, tries=0.5)
    assert exact < ours < 15.0 * exact


@given(
    probability=st.floats(1e-6, 0.5),
    looks=st.floats(5.0, 500.0),
    tries=st.floats(1.0, 50.0),
)
def test_chance_level_inverts_chance(probability: float, looks: float, tries: float) -> None:
    level = chance_level(probability, looks=looks, tries=tries)
    if level < 0.999:
        assert chance(level, looks=looks, tries=tries) == pytest.approx(probability, rel=1e-6)


def test_tries_give_the_tail_of_the_maximum_of_a_smooth_process() -> None:
    # Rice's rate of crossings, checked on a drawn Gaussian process of unit rms and bandwidth.
    rng = np.random.default_rng(4)
    n, step, length = 4096, 0.05, 20.0
    omega = 2.0 * np.pi * np.fft.rfftfreq(n, step)
    amplitude = np.exp(-0.25 * omega**2)
    real, imaginary = rng.normal(size=(2, 4000, omega.size))
    waves = amplitude * (real + 1j * imaginary)
    trace = np.fft.irfft(waves, n)[:, : round(length / step)]
    trace /= trace.std()
    bandwidth = np.sqrt(np.sum((amplitude * omega) ** 2) / np.sum(amplitude**2))
    level = 3.2
    expected = effective_tries(0.5 * length, bandwidth=bandwidth, directions=1)
    tail = 1.0 - np.exp(-expected * np.exp(-0.5 * level**2))
    seen = np.mean(trace.max(axis=1) > level)
    # Crossings are nearly Poisson; the tail of a normal number is below half its exponential.
    assert 0.6 * tail < seen < tail + 3.0 * np.sqrt(tail / 4000)


def test_cost_grows_in_proportion_to_the_points() -> None:
    def cost(points: int) -> float:
        pair = one(replace(PLAIN, points=points))
        times = []
        for _ in range(3):
            begin = time.process_time()
            found(pair)
            times.append(time.process_time() - begin)
        return min(times)

    # Ten times the points: in proportion or less; twice that is left for the machine's caches.
    assert cost(1_000_000) < 20.0 * cost(100_000)
