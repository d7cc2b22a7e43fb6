"""The polynomial plate against a boundary-value solver, its own series and its symmetries.

Finite elements of crystals and of supported wafers stand in `test_finite_elements`.
"""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from filmstress.errors import MeasurementRefused
from filmstress.physics.deflection import (
    bifurcation,
    fit_coefficient,
    force_over_linear,
    remainder,
)
from filmstress.physics.elasticity import isotropic_plane_stress, rotate_reduced
from filmstress.physics.supported_plate import Weight
from filmstress.physics.von_karman import stiffening
from tests.physics._cuts import reduced
from tests.physics.test_deflection import fitted, plate_slope


def plate(nu):
    return isotropic_plane_stress(youngs_modulus_pa=70e9, poisson_ratio=nu)


def factor(reduced_pa, f, change, before=0.0):
    """Film force over the linear one, or what it tends to."""
    found = stiffening(
        reduced_pa=reduced_pa,
        window_low=-f,
        window_high=f,
        reduced_change=change,
        reduced_before=before,
    )
    return found.film_change / change if change else found.gain


# Freund's S_c is 2 for nu = 0, 1.43 for 0.25, 1.21 for 0.4.
STATES = [(nu, force) for nu in (0.0, 0.25) for force in (0.1, -0.3, 0.7, 1.0, 1.3)]
STATES += [(0.4, force) for force in (0.1, -0.3, 0.7, 1.0)]


@pytest.mark.parametrize(("nu", "force"), STATES)
@pytest.mark.parametrize("bare", [0.0, 0.1, -0.1])
def test_boundary_value_solver(nu, force, bare):
    """scipy.integrate.solve_bvp, tolerance 1e-9."""
    slope = plate_slope(force, nu, bare)
    for low, high in [(-1.0, 1.0), (-0.6, 0.6), (-0.9, 0.5), (-0.3, 0.3)]:
        change = fitted(slope, low, high) - bare
        found = stiffening(
            reduced_pa=plate(nu),
            window_low=low,
            window_high=high,
            reduced_change=change,
            reduced_before=bare,
        )
        assert found.film_change == pytest.approx(force, rel=2e-4)


@given(k=st.floats(-0.2, 0.2), nu=st.floats(0.05, 0.35), f=st.floats(0.1, 1.0))
@settings(max_examples=40)
def test_joins_the_series(k, nu, f):
    c = fit_coefficient(poisson_ratio=nu, window_low=-f, window_high=f)
    series = force_over_linear(coefficient=c, reduced_before=0.0, reduced_after=k)
    left_out = factor(plate(nu), f, k) - series
    assert -2e-8 <= left_out <= remainder(coefficient=c, reduced_curvature=k) + 2e-8


@given(
    k=st.floats(0.01, 0.35),
    before=st.floats(-0.1, 0.1),
    f=st.floats(0.3, 1.0),
    name=st.sampled_from(["glass", "Si(001)", "Si(110)"]),
)
@settings(max_examples=30)
def test_gain_is_the_derivative_of_the_force(k, before, f, name):
    q, step = reduced(name), 1e-4 * k
    above, below = (factor(q, f, k + d, before) * (k + d) for d in (step, -step))
    gain = stiffening(
        reduced_pa=q, window_low=-f, window_high=f, reduced_change=k, reduced_before=before
    ).gain
    assert gain == pytest.approx((above - below) / (2.0 * step), rel=1e-4)


@given(
    k=st.floats(0.01, 0.4),
    before=st.floats(-0.1, 0.1),
    name=st.sampled_from(["glass", "Si(001)", "Si(111)", "Ge(001)"]),
)
@settings(max_examples=30)
def test_a_bowl_is_a_dome_turned_over(k, before, name):
    q = reduced(name)
    assert factor(q, 0.8, k, before) == pytest.approx(factor(q, 0.8, -k, -before), rel=1e-9)


@given(k=st.floats(0.01, 0.4), angle=st.floats(-3.0, 3.0))
@settings(max_examples=20)
def test_an_isotropic_plate_has_no_azimuth(k, angle):
    turned = rotate_reduced(plate(0.25), angle)
    assert factor(turned, 0.8, k) == pytest.approx(factor(plate(0.25), 0.8, k), rel=1e-9)


@pytest.mark.parametrize("name", ["glass", "Si(001)", "Si(110)", "sapphire(r)"])
def test_linear_where_little_is_bent(name):
    """The modulus along the scan is that of the linear plate, whatever the azimuth."""
    for azimuth in (0.0, 0.4, math.pi / 2.0):
        q = rotate_reduced(reduced(name), azimuth)
        found = stiffening(reduced_pa=q, window_low=-0.7, window_high=0.9, reduced_change=1e-4)
        assert found.film_change == pytest.approx(1e-4, rel=1e-6)
        assert found.gain == pytest.approx(1.0, abs=1e-6)


def test_no_change_has_the_limit_of_a_small_one():
    """S = K + c (K + K0)(K^2 + 2 K0 K): 1 + 2 c K0^2 without film."""
    c = fit_coefficient(poisson_ratio=0.25, window_low=-0.8, window_high=0.8)
    found = stiffening(
        reduced_pa=plate(0.25),
        window_low=-0.8,
        window_high=0.8,
        reduced_change=0.0,
        reduced_before=0.05,
    )
    assert found.film_change == 0.0
    assert found.gain == pytest.approx(1.0 + 2.0 * c * 0.05**2, abs=1e-4)
    assert factor(plate(0.25), 0.8, 1e-6, 0.05) == pytest.approx(found.gain, abs=1e-4)
    assert factor(plate(0.25), 0.8, 1e-9) == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize("name", ["glass", "Si(111)", "Si(001)", "Ge(001)"])
def test_refuses_at_the_bifurcation(name):
    """Another finite-element plate put S_c 3 to 4 % above the value for a spherical shape."""
    q = reduced(name)

    def refused(k):
        try:
            factor(q, 0.99, k)
        except MeasurementRefused:
            return 1.0
        return -1.0

    last = brentq(refused, 0.3, 1.2, xtol=1e-3) - 2e-3
    force = last * factor(q, 0.99, last)
    assert 1.015 < force / bifurcation(q)[1] < 1.05


@pytest.mark.parametrize("k", [1.5, -3.0, 50.0])
def test_what_no_wafer_does_is_refused(k):
    with pytest.raises(MeasurementRefused, match="cylinder-like") as caught:
        factor(plate(0.25), 0.8, k)
    assert caught.value.code == "beyond-bifurcation"


def test_the_stiff_azimuth_turns_back():
    """Si(110) across its soft direction: the curvature has a maximum, and is refused near it."""
    q = rotate_reduced(reduced("Si(110)"), math.pi / 2.0)
    with pytest.raises(MeasurementRefused):
        factor(q, 0.9, 0.6)


@given(
    k=st.floats(-0.35, 0.35),
    radius=st.sampled_from([0.0, 1.0]),
    name=st.sampled_from(["glass", "Si(001)", "Si(110)"]),
)
@settings(max_examples=80)
def test_the_iteration_ends_on_every_support(k, radius, name):
    """A stiff ring must not keep Newton's method above its threshold; the answer is smooth in K."""
    q, weight = reduced(name), Weight(0.1, radius)
    step = math.copysign(1e-3, k)
    here, there = (
        stiffening(
            reduced_pa=q,
            window_low=-0.4,
            window_high=0.4,
            reduced_change=change,
            reduced_before=0.05,
            weight_before=weight,
            weight_after=weight,
        )
        for change in (k, k + step)
    )
    slope = (there.film_change - here.film_change) / step
    assert slope == pytest.approx(0.5 * (here.gain + there.gain), rel=2e-3)


@pytest.mark.parametrize("radius", [0.0, 1.0])
@pytest.mark.parametrize("load", [0.1, 0.5, 1.0, 3.0, 8.0])
@pytest.mark.parametrize("before", [-1.0, 0.0, 1.0])
def test_no_change_is_no_force_however_far_the_wafer_sags(load, radius, before):
    """A thin wide wafer may sag so far that no bare shape reads what was stated: then no number."""
    weight, change = Weight(load, radius), 1e-4
    try:
        found = stiffening(
            reduced_pa=reduced("Si(001)"),
            window_low=-0.9,
            window_high=0.9,
            reduced_change=change,
            reduced_before=before,
            weight_before=weight,
            weight_after=weight,
        )
    except MeasurementRefused:
        assert load * 0.6 + abs(before) > 0.5  # K about where a wafer begins to turn over
    else:
        assert found.film_change == pytest.approx(found.gain * change, rel=2e-2)
