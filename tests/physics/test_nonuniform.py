"""Stress that varies over the wafer: a worked case, and a numerical plate of any distribution."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid

from filmstress.physics.nonuniform import (
    parabola_over_mean,
    radial_force,
    radial_height,
    ring_factor,
    ring_sensitivity,
)

# The case: E = 130 GPa, nu = 0.28, h = 500 um, R = 50 mm, film 1 um of 200 MPa [1 + (r/R)^2/2].
E, NU, H, R, FILM = 130e9, 0.28, 500e-6, 0.05, 1e-6
M = E / (1.0 - NU)
SUBSTRATE = {"modulus_pa": M, "poisson_ratio": NU, "substrate_thickness_m": H}

# r/R, kappa_rr, kappa_tt [1/m], stress [MPa], Stoney's of the mean and of kappa_rr alone [MPa];
# computed independently from the formula for z'(r) of a plate under distributed moments.
ROWS = [
    (0.0, 0.0289772308, 0.0289772308, 200.0, 218.0, 218.0),
    (0.5, 0.0321673846, 0.0300406154, 225.0, 234.0, 242.0),
    (1.0, 0.0417378462, 0.0332307692, 300.0, 282.0, 314.0),
]


@pytest.mark.parametrize("row", ROWS)
def test_worked_case(row):
    _, rr, tt, stress, of_mean, of_rr = row
    force = radial_force(
        kappa_rr_per_m=rr, kappa_tt_per_m=tt, mean_sum_per_m=0.06646153846, **SUBSTRATE
    )
    assert force / FILM == pytest.approx(stress * 1e6, rel=3e-9)
    assert M * H**2 / (6.0 * FILM) * (rr + tt) / 2.0 == pytest.approx(of_mean * 1e6, rel=3e-9)
    assert M * H**2 / (6.0 * FILM) * rr == pytest.approx(of_rr * 1e6, rel=3e-9)


def bent(film, radius=R, wafer_radius=R, points=40001):
    """Radii and slope of a free plate under a film force N(r): its moments balanced by hand.

    (r (z'' + nu z'/r) D - r m)' = D (z'/r + nu z'') - m, integrated for any N(r): in the sum Sigma,
    D Sigma' = m'; the constant makes the radial moment vanish at the rim.
    """
    r = np.linspace(0.0, wafer_radius, points)
    moment = np.where(r <= radius, film(r), 0.0) * H / 2.0
    d = M * H**3 / (12.0 * (1.0 + NU))
    held = cumulative_trapezoid(moment * r, r, initial=0.0)
    # r z' = held/D + c r^2/2; at the rim D (z'' + nu z'/R) = m there.
    rim = held[-1] / wafer_radius**2
    c = 2.0 * (1.0 - NU) / (1.0 + NU) * rim / d
    slope = np.divide(held / d, r, out=np.zeros_like(r), where=r > 0.0) + c * r / 2.0
    return r, slope, moment, d


@given(a=st.floats(-1.0, 1.0), b=st.floats(-1.0, 1.0))
@settings(max_examples=30)
def test_recovers_any_distribution(a, b):
    """Also that the plate of the test is a plate: free at its rim."""

    def film(r):
        return 300.0 * (1.0 + a * (r / R) ** 2 + b * np.cos(5.0 * r / R))

    r, slope, moment, d = bent(film)
    tt = slope[1:] / r[1:]
    rr = moment[1:] / d + tt[-1] * (1.0 - NU) - tt  # D Sigma = m + a mean m
    assert rr[-1] + NU * tt[-1] == pytest.approx(moment[-1] / d, abs=1e-9)
    gradient = np.gradient(slope, r)[1:]
    assert np.max(np.abs(rr - gradient)[5:-1]) < 3e-6
    force = radial_force(
        kappa_rr_per_m=gradient, kappa_tt_per_m=tt, mean_sum_per_m=2.0 * tt[-1], **SUBSTRATE
    )
    assert np.max(np.abs(force - film(r[1:]))[5:-1]) < 0.05


def test_the_height_of_a_radial_film_is_that_of_the_numerical_plate():
    d = 0.3
    r, slope, _, _ = bent(lambda r: 300.0 * (1.0 + d * ((r / R) ** 2 - 0.5)))
    _, even, _, _ = bent(lambda r: 300.0 + 0.0 * r)
    height = cumulative_trapezoid(slope - even, r, initial=0.0)
    uniform = 6.0 * 300.0 / (M * H**2)
    found = d * radial_height(r, curvature_per_m=uniform, poisson_ratio=NU, wafer_radius_m=R)
    np.testing.assert_allclose(found, height, atol=2e-6 * np.abs(height).max())


@pytest.mark.parametrize(
    ("diameter_mm", "percent"), [(100, -4.30), (150, -2.89), (200, -2.18), (300, -1.46)]
)
def test_bare_ring_of_3_mm(diameter_mm, percent):
    """Si(111), whose Poisson's ratio in the plane is 0.2618; by finite elements to 1e-5."""
    wafer = diameter_mm / 2e3
    factor = ring_factor(poisson_ratio=0.2618, film_radius_m=wafer - 3e-3, wafer_radius_m=wafer)
    assert 100.0 * (factor - 1.0) == pytest.approx(percent, abs=0.006)


@given(film=st.floats(0.5, 1.0), nu=st.floats(0.0, 0.45))
def test_ring_and_its_sensitivity(film, nu):
    ring = {"poisson_ratio": nu, "wafer_radius_m": 1.0}
    step = 1e-6
    slope = (
        ring_factor(film_radius_m=film - step, **ring)
        - ring_factor(film_radius_m=film + step, **ring)
    ) / (2.0 * step)
    assert ring_sensitivity(film_radius_m=film, **ring) == pytest.approx(slope, rel=1e-8)
    assert ring_factor(film_radius_m=1.0, **ring) == pytest.approx(1.0, abs=1e-15)


def test_bare_ring_on_the_numerical_plate():
    r, slope, _, _ = bent(lambda r: 300.0 + 0.0 * r, radius=0.9 * R)
    full = 6.0 * 300.0 / (M * H**2)
    inside = slope[1000] / r[1000]
    expected = ring_factor(poisson_ratio=NU, film_radius_m=0.9 * R, wafer_radius_m=R)
    assert inside / full == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("order", [2, 4])
@pytest.mark.parametrize("reach", [0.3, 0.8, 1.0])
def test_parabola_against_the_mean(order, reach):
    """One number for a film that varies: the numerical plate, fitted evenly."""
    d = 0.2
    r, slope, _, _ = bent(lambda r: 300.0 * (1.0 + d * ((r / R) ** order - 2.0 / (order + 2.0))))
    height = cumulative_trapezoid(slope, r, initial=0.0)
    x = np.linspace(-reach * R, reach * R, 4001)
    curvature = 2.0 * np.polyfit(x, np.interp(np.abs(x), r, height), 2)[0]
    read = M * H**2 / 6.0 * curvature
    expected = parabola_over_mean(poisson_ratio=NU, scan_radius=reach, order=order)
    assert read / 300.0 - 1.0 == pytest.approx(d * expected, abs=2e-5)


def test_parabola_over_the_whole_diameter():
    """-(1 + nu)/7 for a quadratic distribution, by hand."""
    assert parabola_over_mean(poisson_ratio=NU, scan_radius=1.0) == pytest.approx(-1.28 / 7.0)
