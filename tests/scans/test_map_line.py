"""Lines of a height map: exact on the grid, linear between, nothing made up, white stays white."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from filmstress.errors import ScanError
from filmstress.records.quantity import Measured
from filmstress.records.scan import HeightMap, ScanSource
from filmstress.records.wafer import ScanSpec
from filmstress.scans.curvature import scan_curvature
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.map_line import line_of_map, scan_of_map

SOURCE = ScanSource("map", "0", "m", "m", "x, y", "z", 0)
AZIMUTHS = st.floats(-7.0, 7.0, allow_nan=False)


def map_of(z: np.ndarray, *, dx: float = 1e-3, dy: float = 1e-3, at: float = 0.0) -> HeightMap:
    rows, columns = z.shape
    return HeightMap(at + dx * np.arange(columns), at + dy * np.arange(rows), z, SOURCE)


def centred(height_map: HeightMap) -> tuple[np.ndarray, np.ndarray]:
    x = height_map.x - height_map.x.mean()
    y = height_map.y - height_map.y.mean()
    return x, y


def random_map(rows: int, columns: int, **spacing: float) -> HeightMap:
    return map_of(np.random.default_rng(rows * columns).normal(size=(rows, columns)), **spacing)


def test_along_a_middle_row_or_column_the_heights_are_the_measured_ones() -> None:
    one = random_map(15, 21, dx=2e-3, dy=3e-3, at=0.7)
    x, y = centred(one)
    for degrees, places, heights in (
        (0, x, one.z[7]),
        (90, y, one.z[:, 10]),
        (180, x, one.z[7, ::-1]),
        (270, y, one.z[::-1, 10]),
        (-90, y, one.z[::-1, 10]),
        (720, x, one.z[7]),
    ):
        along, z = line_of_map(one, math.radians(degrees))
        assert along == pytest.approx(places, abs=1e-15)
        np.testing.assert_array_equal(z, heights)


def test_along_the_diagonal_of_a_square_grid_the_heights_are_the_measured_ones() -> None:
    one = random_map(21, 21, dx=0.1e-3, dy=0.1e-3)
    along, z = line_of_map(one, math.radians(45.0))
    np.testing.assert_array_equal(z, np.diag(one.z))
    assert np.diff(along) == pytest.approx(math.sqrt(2.0) * 0.1e-3)
    _, other = line_of_map(one, math.radians(135.0))
    np.testing.assert_array_equal(other, np.diag(one.z[:, ::-1]))


def test_between_two_middle_rows_the_heights_are_their_mean() -> None:
    one = random_map(14, 20)
    along, z = line_of_map(one, 0.0)
    assert z == pytest.approx(0.5 * (one.z[6] + one.z[7]), abs=1e-15)
    assert along == pytest.approx(np.arange(20) * 1e-3 - 9.5e-3)


@given(AZIMUTHS, st.integers(3, 14), st.integers(3, 14), st.floats(0.2, 5.0))
def test_the_line_is_straight_through_the_middle_and_interpolated_linearly(
    azimuth: float, rows: int, columns: int, ratio: float
) -> None:
    one = random_map(rows, columns, dx=1e-3, dy=ratio * 1e-3)
    along, z = line_of_map(one, azimuth)
    x, y = centred(one)
    places = np.stack([along * math.sin(azimuth), along * math.cos(azimuth)], axis=1)
    ends = [np.array([y[end], x[end]]) for end in (0, -1)]
    assert np.all(places >= ends[0] - 1e-8)
    assert np.all(places <= ends[1] + 1e-8)
    want = RegularGridInterpolator((y, x), one.z)(np.clip(places, *ends))
    # What lies within a millionth of a spacing of a grid point is that point.
    assert z == pytest.approx(want, abs=2e-5)
    assert np.all(np.diff(along) > 0.0)


@given(AZIMUTHS, st.integers(3, 12), st.integers(3, 12))
def test_half_a_turn_reverses(azimuth: float, rows: int, columns: int) -> None:
    one = random_map(rows, columns)
    along, z = line_of_map(one, azimuth)
    back, reversed_z = line_of_map(one, azimuth + math.pi)
    assert back == pytest.approx(-along[::-1], abs=1e-12)
    assert reversed_z == pytest.approx(z[::-1], abs=1e-5)


@given(AZIMUTHS, st.integers(3, 12), st.integers(3, 12))
def test_a_map_turned_by_a_quarter_turns_the_azimuth(
    azimuth: float, rows: int, columns: int
) -> None:
    one = random_map(rows, columns, dx=1e-3, dy=1.3e-3)
    # What lay along +x lies along +y afterwards: the new z at (x, y) is the old one at (y, -x).
    turned = map_of(one.z.T[:, ::-1], dx=1.3e-3, dy=1e-3)
    along, z = line_of_map(one, azimuth)
    along_turned, z_turned = line_of_map(turned, azimuth + 0.5 * math.pi)
    assert along_turned == pytest.approx(along, abs=1e-12)
    assert z_turned == pytest.approx(z, abs=1e-5)


@given(AZIMUTHS, st.floats(-0.03, 0.03), st.floats(-0.03, 0.03), st.floats(-0.03, 0.03))
def test_curvature_along_an_azimuth_is_eulers(
    azimuth: float, xx: float, yy: float, xy: float
) -> None:
    """Euler's theorem for small slopes: kxx c^2 + 2 kxy s c + kyy s^2 (do Carmo, Differential
    Geometry of Curves and Surfaces (1976), section 3-2, from memory)."""
    axis = np.linspace(-40e-3, 40e-3, 161)
    x, y = np.meshgrid(axis, axis)
    one = map_of(1e-6 + 2e-5 * x - 1e-5 * y + 0.5 * (xx * x**2 + yy * y**2) + xy * x * y, dx=0.5e-3)
    scan = scan_of_map(HeightMap(axis, axis, one.z, SOURCE), azimuth)
    fit = np.polynomial.Polynomial.fit(scan.x, scan.z, 2).convert().coef
    cos, sin = math.cos(azimuth), math.sin(azimuth)
    want = xx * cos**2 + 2.0 * xy * sin * cos + yy * sin**2
    # Linear interpolation lifts a curved surface by up to an eighth of k d^2, evenly along.
    assert 2.0 * fit[2] == pytest.approx(want, abs=3e-6)


def test_nothing_is_made_up_beside_what_is_missing() -> None:
    z = np.random.default_rng(4).normal(size=(31, 31))
    z[:, 20] = np.nan
    z[15, 3] = np.nan
    z[14, 24] = np.nan  # beside the middle row: no neighbour of it
    one = map_of(z)
    _, along_x = line_of_map(one, 0.0)
    assert set(np.flatnonzero(np.isnan(along_x))) == {3, 20}
    scan = scan_of_map(one, 0.0)
    assert scan.x.size == 29
    assert scan.source.rows == 31
    (left,) = scan.source.left_out
    assert left.words == "2 points left out: no height on the line (first is point 4)"
    # A little off the row, rows 14 to 16 are needed, and their gaps count.
    _, beside = line_of_map(one, math.radians(2.0))
    assert np.isnan(beside[3])
    assert np.isnan(beside[20])


def test_what_lies_beyond_the_wafer_is_not_missing() -> None:
    axis = np.linspace(-50e-3, 50e-3, 101)
    x, y = np.meshgrid(axis, axis)
    z = np.where(np.hypot(x, y) <= 45e-3, 0.01 * x**2, np.nan)
    scan = scan_of_map(HeightMap(axis + 7.0, axis - 3.0, z, SOURCE), math.radians(30.0))
    assert scan.source.left_out == ()
    assert abs(scan.x[0]) == pytest.approx(45e-3, abs=1.2e-3)


def test_a_map_without_its_middle_is_refused_in_words() -> None:
    z = np.full((40, 40), np.nan)
    z[30:] = 0.0
    with pytest.raises(ScanError, match="line at 0 deg through the middle of this map has 0"):
        scan_of_map(map_of(z), 0.0)


def test_the_middle_of_the_map_stays_the_middle_where_an_end_is_missing() -> None:
    """A flat at the rim shortens one end; the wafer's centre does not move."""
    z = np.tile(np.linspace(-1e-6, 1e-6, 101), (101, 1))
    z[:, 90:] = np.nan
    spec = ScanSpec(path="map", azimuth=Measured(0.0, "rad", 0.0))
    trace = in_wafer_frame(scan_of_map(map_of(z), 0.0), spec, line_azimuth_rad=0.0)
    assert trace.origin == 0.0
    assert trace.x[50] == pytest.approx(0.0, abs=1e-15)


def test_white_noise_of_a_map_is_white_along_the_line_at_no_more_than_its_variance() -> None:
    """Each sample uses grid points of its own.  Of 2000 maps the correlation of neighbours lies
    within 0.02 and the variances within 6 % (four standard deviations or more: a correct program
    fails less often than once in a thousand)."""
    rng = np.random.default_rng(17)
    lines = np.array([line_of_map(map_of(rng.normal(size=(24, 24))), 0.4)[1] for _ in range(2000)])
    covariance = np.cov(lines.T)
    variances = np.diag(covariance)
    assert np.all(variances > 0.5 * 0.85)
    assert np.all(variances < 1.15)
    off = covariance / np.sqrt(np.outer(variances, variances)) - np.eye(len(variances))
    assert abs(off[np.arange(23), np.arange(1, 24)].mean()) < 0.02


def test_curvature_of_a_line_has_an_interval_that_knows_the_noise_was_averaged() -> None:
    """Noise is judged from the residuals, so the interval holds although interpolation averages.

    Of 300 white maps at 30 deg, 95 % intervals hold in 276 or more: binomial, a correct program
    (97 % or more, as the noise model promises) fails less than once in 10^5.
    """
    rng = np.random.default_rng(5)
    spec = ScanSpec(path="map", azimuth=Measured(0.0, "rad", 0.0))
    held = 0
    for _ in range(300):
        scan = scan_of_map(map_of(1e-8 * rng.normal(size=(101, 101))), math.radians(30.0))
        fit = scan_curvature(in_wafer_frame(scan, spec, line_azimuth_rad=0.0)).fit
        held += abs(fit.curvature) <= 1.97 * fit.u
    assert held >= 276
