"""Weight as the calibration, by simulation of all scans with finite elements."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import SubstrateError
from filmstress.physics.deflection import reduced_force
from filmstress.physics.elasticity import isotropic_equivalent, isotropic_plane_stress
from filmstress.physics.gravity import STANDARD_GRAVITY
from filmstress.physics.weight_calibration import (
    Support,
    force_by_weight,
    weight_calibration,
)
from tests.physics._cuts import reduced
from tests.physics._plate_elements import ElementPlate

R, DENSITY = 0.1, 2329.0
WINDOW = {"window_low_m": -0.08, "window_high_m": 0.08}


def calibration(first, second, reduced_pa, **options):
    given_here = {"density_kg_per_m3": DENSITY, "wafer_radius_m": R} | WINDOW | options
    return weight_calibration(first=first, second=second, reduced_pa=reduced_pa, **given_here)


@pytest.mark.parametrize("name", ["glass", "Si(001)", "Si(111)"])
@pytest.mark.parametrize("thickness", [500e-6, 725e-6])
def test_the_force_comes_back_without_thickness_and_modulus(name, thickness):
    """Scans drawn from elements: the film, the weight on two supports; height scale 7 % off.

    The calibration is told Q of twice the stiffness and no thickness.
    """
    q, force, scale = reduced(name), 40.0, 1.07
    modulus = sum(isotropic_equivalent(q))
    load = DENSITY * STANDARD_GRAVITY * R**4 / (modulus * thickness**3)
    to_curvature = scale * 4.0 * thickness / R**2
    inner, outer = Support("three-points", 0.5 * R), Support("three-points", 0.9 * R)
    seen = []
    for support in (inner, outer):
        plate = ElementPlate(
            q, 2, load=load, support="three-points", support_radius=support.radius_m / R
        )
        seen.append(plate.fitted(plate.solve(0.0, linear=True), -0.8, 0.8) * to_curvature)
    film = ElementPlate(q, 1)
    bent = film.solve(
        reduced_force(
            force_per_width_n_per_m=force,
            modulus_pa=modulus,
            wafer_radius_m=R,
            substrate_thickness_m=thickness,
        ),
        linear=True,
    )
    found = force_by_weight(
        calibration=calibration(inner, outer, 2.0 * q),
        film_change_per_m=film.fitted(bent, -0.8, 0.8) * to_curvature,
        weight_change_per_m=seen[1] - seen[0],
    )
    assert found == pytest.approx(force, rel=2e-3)


def test_rim_against_centre_over_the_whole_diameter():
    """N = (rho g R^2/4) [3 + nu + (1 + nu)/15], the two round plates by hand.

    The Gauss points of the fit leave 2e-6 of the logarithm over the point.
    """
    nu = 0.25
    found = calibration(
        Support("centre"),
        Support("rim"),
        isotropic_plane_stress(youngs_modulus_pa=1.0, poisson_ratio=nu),
        window_low_m=-R,
        window_high_m=R,
    )
    expected = DENSITY * STANDARD_GRAVITY * R**2 / 4.0 * (3.0 + nu + (1.0 + nu) / 15.0)
    assert found.force_n_per_m == pytest.approx(expected, rel=5e-6)
    assert found.radius_sensitivity == (0.0, 0.0)


@given(inner=st.floats(0.3, 0.6), outer=st.floats(0.75, 0.98), azimuth=st.floats(-3.0, 3.0))
@settings(max_examples=15)
def test_sensitivities_are_derivatives(inner, outer, azimuth):
    q = reduced("Si(001)")

    def at(a, b):
        return calibration(
            Support("three-points", a * R, azimuth), Support("three-points", b * R, azimuth), q
        )

    here = at(inner, outer)
    assert here.force_n_per_m > 0.0
    step = 1e-3
    for number, moved in enumerate([(1 + step, 1.0), (1.0, 1 + step)]):
        up = at(inner * moved[0], outer * moved[1]).force_n_per_m
        slope = (up / here.force_n_per_m - 1.0) / step
        assert here.radius_sensitivity[number] == pytest.approx(slope, abs=0.02 * abs(slope) + 2e-3)


@given(factor=st.floats(0.1, 10.0))
@settings(max_examples=15)
def test_supports_swapped_and_stiffness_scaled(factor):
    q = reduced("Si(110)")
    one, other = Support("three-points", 0.5 * R, 0.3), Support("rim")
    there = calibration(one, other, q).force_n_per_m
    assert calibration(other, one, factor * q).force_n_per_m == pytest.approx(-there, rel=1e-9)


def test_a_support_that_is_none_is_refused():
    with pytest.raises(SubstrateError, match="flat-stage"):
        calibration(Support("flat-stage"), Support("rim"), reduced("glass"))
    with pytest.raises(SubstrateError, match="three points"):
        calibration(Support("three-points", 2.0 * R), Support("rim"), reduced("glass"))
    assert math.isfinite(
        calibration(Support("centre"), Support("rim"), reduced("glass")).force_n_per_m
    )
