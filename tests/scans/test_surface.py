"""The curvatures of a whole map: exact on analytic surfaces, dust out, intervals that hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from filmstress.errors import ScanError
from filmstress.records.notice import WarningCode
from filmstress.records.scan import HeightMap
from filmstress.records.surface import MapCurvature
from filmstress.scans.surface import along, map_curvature
from tests.benchmarks.surface_coverage import KINDS, SOURCE, found_in

CURVATURES = st.floats(-0.03, 0.03)
ANGLES = st.floats(-3.0, 3.0)
AXIS = np.linspace(-40e-3, 40e-3, 61)
# Rounding of heights of 20 um over 40 mm.
ROUNDING = 1e-11


def curvature_of(z: np.ndarray, x: np.ndarray = AXIS, y: np.ndarray = AXIS) -> MapCurvature:
    return map_curvature(HeightMap(x, y, z, SOURCE))


def surface(
    xx: float, yy: float, xy: float, x: np.ndarray = AXIS, y: np.ndarray = AXIS
) -> np.ndarray:
    x, y = np.meshgrid(x, y)
    return 3e-6 + 2e-5 * x - 1e-5 * y + 0.5 * (xx * x**2 + yy * y**2) + xy * x * y


def within(radius: float, x: np.ndarray = AXIS, y: np.ndarray = AXIS) -> np.ndarray:
    return np.hypot(*np.meshgrid(x, y)) <= radius * (1.0 + 1e-9)


def values(found: MapCurvature) -> list[float]:
    return [found.xx.value, found.yy.value, found.xy.value]


@settings(max_examples=8)
@given(CURVATURES, CURVATURES, CURVATURES, st.sampled_from(["square", "round", "holed", "off"]))
def test_a_quadratic_surface_is_found_exactly(xx: float, yy: float, xy: float, shape: str) -> None:
    """Whatever was measured: all, the circle in the square, with regions missing, off the origin;
    the principal curvatures are the eigenvalues of the tensor (numpy)."""
    x, y = (AXIS + 0.2, 0.7 * AXIS[:41] - 0.1) if shape == "off" else (AXIS, AXIS)
    z = surface(xx, yy, xy, x, y)
    if shape in ("round", "holed"):
        z[~within(40e-3)] = np.nan
    if shape == "holed":
        z[30:50, 10:30] = np.nan
        z[:, 44] = np.nan
    found = curvature_of(z, x, y)
    assert values(found) == pytest.approx([xx, yy, xy], abs=ROUNDING)
    assert found.points == np.count_nonzero(np.isfinite(z))
    low, high = np.linalg.eigvalsh([[xx, xy], [xy, yy]])
    assert found.high.value == pytest.approx(high, abs=ROUNDING)
    assert found.low.value == pytest.approx(low, abs=ROUNDING)
    assert found.mean.value == pytest.approx(0.5 * (xx + yy), abs=ROUNDING)


@settings(max_examples=8)
@given(CURVATURES, CURVATURES, CURVATURES, ANGLES)
def test_curvature_along_a_line_follows_euler(xx: float, yy: float, xy: float, to: float) -> None:
    """Euler's theorem, k = k1 cos^2 + k2 sin^2 of the angle from the first principal direction
    (do Carmo, Differential Geometry of Curves and Surfaces (1976), section 3-2, from memory),
    and second differences of the surface itself."""
    found = curvature_of(surface(xx, yy, xy))
    one = float(np.dot(along(to), values(found)))
    turn = to - found.axis.value
    euler = found.high.value * math.cos(turn) ** 2 + found.low.value * math.sin(turn) ** 2
    assert one == pytest.approx(euler, abs=ROUNDING)
    step = 10e-3 * np.array([-1.0, 0.0, 1.0])
    x, y = step * math.cos(to), step * math.sin(to)
    line = 0.5 * (xx * x**2 + yy * y**2) + xy * x * y
    assert one == pytest.approx(float(line[0] - 2.0 * line[1] + line[2]) / 1e-4, abs=1e-9)


@settings(max_examples=8)
@given(CURVATURES, CURVATURES, CURVATURES, ANGLES)
def test_turning_the_wafer_turns_the_axis_alone(
    xx: float, yy: float, xy: float, turn: float
) -> None:
    cos, sin = math.cos(turn), math.sin(turn)
    matrix = np.array([[cos, -sin], [sin, cos]])
    turned = matrix @ np.array([[xx, xy], [xy, yy]]) @ matrix.T
    one = curvature_of(np.where(within(40e-3), surface(xx, yy, xy), np.nan))
    other = curvature_of(
        np.where(within(40e-3), surface(turned[0, 0], turned[1, 1], turned[0, 1]), np.nan)
    )
    assert other.high.value == pytest.approx(one.high.value, abs=ROUNDING)
    assert other.low.value == pytest.approx(one.low.value, abs=ROUNDING)
    if one.high.value - one.low.value > 1e-4:
        apart = (other.axis.value - one.axis.value - turn + 0.5 * math.pi) % math.pi
        assert apart == pytest.approx(0.5 * math.pi, abs=1e-5)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_turning_the_grid_turns_noise_and_uncertainty_along(quarters: int) -> None:
    rng = np.random.default_rng(2)
    # 72 points fall alike into the squares from either end.
    axis = np.linspace(-40e-3, 40e-3, 72)
    z = surface(0.01, -0.004, 0.003, axis, axis) + 1e-8 * rng.normal(size=(72, 72))
    one = curvature_of(z, axis, axis)
    # Rows run upwards here, so that np.rot90 turns the other way round.
    other = curvature_of(np.rot90(z, -quarters), axis, axis)
    assert other.high.value == pytest.approx(one.high.value, rel=1e-9)
    assert other.high.u == pytest.approx(one.high.u, rel=1e-3)
    assert other.axis.u == pytest.approx(one.axis.u, rel=1e-3)
    apart = (other.axis.value - one.axis.value - 0.5 * quarters * math.pi + 1.0) % math.pi
    assert apart == pytest.approx(1.0, abs=1e-9)


def test_heights_and_positions_scale_the_curvatures() -> None:
    z = surface(0.01, 0.002, 0.003) + 1e-8 * np.random.default_rng(1).normal(size=(61, 61))
    one, higher, wider = curvature_of(z), curvature_of(2.0 * z), curvature_of(z, 2 * AXIS, 2 * AXIS)
    assert np.array(values(higher)) == pytest.approx(2.0 * np.array(values(one)), rel=1e-9)
    assert higher.covariance == pytest.approx(4.0 * one.covariance, rel=1e-6)
    assert np.array(values(wider)) == pytest.approx(0.25 * np.array(values(one)), rel=1e-9)
    assert wider.covariance == pytest.approx(one.covariance / 16.0, rel=1e-6)


def test_a_bowl_has_no_axis() -> None:
    z = surface(0.01, 0.01, 0.0) + 1e-8 * np.random.default_rng(3).normal(size=(61, 61))
    assert curvature_of(z).axis.u is None
    flat = curvature_of(np.zeros((61, 61)))
    assert flat.axis.u is None
    assert flat.xx.u == 0.0


def test_dust_does_not_move_the_surface() -> None:
    axis = np.linspace(-40e-3, 40e-3, 161)
    rng = np.random.default_rng(8)
    clean = 1e-8 * rng.normal(size=(161, 161))
    dusty = clean.copy()
    for column, row in rng.integers(20, 140, size=(12, 2)):
        dusty[row : row + 2, column : column + 2] += 3e-6
    one, other = curvature_of(clean, axis, axis), curvature_of(dusty, axis, axis)
    assert one.points_used == one.points
    assert other.points - other.points_used == np.count_nonzero(dusty != clean)
    moved = np.abs(np.array(values(other)) - values(one))
    assert moved.max() < 0.5 * (one.xy.u or 0.0)
    assert not other.warnings


def test_what_a_map_cannot_say_is_warned_of() -> None:
    rows = KINDS["rows"](np.random.default_rng(1))
    found = map_curvature(HeightMap(np.arange(121.0), np.arange(121.0), rows, SOURCE))
    assert [notice.code for notice in found.warnings] == [WarningCode.UNCERTAINTY_NOT_ESTABLISHED]
    assert "rows are offset" in found.warnings[0].message
    assert not found.established
    drift = KINDS["smooth-60"](np.random.default_rng(1))
    found = map_curvature(HeightMap(np.arange(121.0), np.arange(121.0), drift, SOURCE))
    assert [notice.code for notice in found.warnings] == [WarningCode.UNCERTAINTY_NOT_ESTABLISHED]
    assert "over so much of the map" in found.warnings[0].message
    assert not found.established


def test_too_small_an_area_is_refused() -> None:
    z = np.full((61, 61), np.nan)
    z[30] = 0.0
    with pytest.raises(ScanError, match="map: the points fill 12 of 144 equal squares"):
        curvature_of(z)
    with pytest.raises(ScanError, match="no points are left"):
        curvature_of(np.full((61, 61), np.nan))


@pytest.mark.parametrize("kind", ["white", "rough-20", "once-smooth-20", "smooth-20"])
def test_intervals_hold_the_truth(kind: str) -> None:
    """30 maps; xx, yy and xy are counted each by itself, a flagged one as one that holds.

    Where 95 % hold, fewer than 24 of 30 do less than once in 1000 (binomial), in each.
    """
    least = 24
    assert binom.cdf(least - 1, 30, 0.95) < 1e-3
    found = found_in(KINDS[kind], 30)
    fair = found["held"][:, :3] | ~found["established"][:, None]
    assert fair.sum(axis=0).min() >= least
