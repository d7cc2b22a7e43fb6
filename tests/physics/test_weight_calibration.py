"""Weight as the calibration: finite elements, the two round plates by hand, derivatives."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import SubstrateError
from filmstress.physics.deflection import reduced_force
from filmstress.physics.elasticity import (
    isotropic_equivalent,
    isotropic_plane_stress,
    rotate_reduced,
)
from filmstress.physics.gravity import STANDARD_GRAVITY
from filmstress.physics.supported_plate import fit_curvature, sag_heights
from filmstress.physics.weight_calibration import (
    Support,
    Weighed,
    equal_force,
    sag_unit,
    stretched_change,
    weight_change,
    weight_curvature,
)
from tests.physics._cuts import reduced
from tests.physics._plate_elements import ElementPlate

R, DENSITY = 0.1, 2329.0
WAFER = Weighed(
    density_kg_per_m3=DENSITY,
    thickness_m=725e-6,
    wafer_radius_m=R,
    window_low_m=-0.08,
    window_high_m=0.08,
)
INNER, OUTER = Support("three-points", 0.5 * R), Support("three-points", 0.9 * R)


def load(q, thickness, radius=R):
    modulus = sum(isotropic_equivalent(q))
    return DENSITY * STANDARD_GRAVITY * radius**4 / (modulus * thickness**3)


@pytest.mark.parametrize("name", ["glass", "Si(001)", "Si(111)", "Si(110)"])
@pytest.mark.parametrize("thickness", [500e-6, 725e-6])
def test_the_force_comes_back_without_thickness_and_modulus(name, thickness):
    """Scans drawn from elements: the film, the weight on two supports; height scale 7 % off.

    The plate is told Q of twice the stiffness and a thickness of its own.
    """
    q, force, scale = reduced(name), 40.0, 1.07
    to_curvature = scale * 4.0 * thickness / R**2
    seen = []
    for support in (INNER, OUTER):
        plate = ElementPlate(
            q,
            2,
            load=load(q, thickness),
            support="three-points",
            support_radius=support.radius_m / R,
        )
        seen.append(plate.fitted(plate.solve(0.0, linear=True), -0.8, 0.8) * to_curvature)
    film = ElementPlate(q, 1)
    bent = film.solve(
        reduced_force(
            force_per_width_n_per_m=force,
            modulus_pa=sum(isotropic_equivalent(q)),
            wafer_radius_m=R,
            substrate_thickness_m=thickness,
        ),
        linear=True,
    )
    stated = 2.0 * q
    ordinary = equal_force(
        film.fitted(bent, -0.8, 0.8) * to_curvature,
        reduced_pa=stated,
        thickness_m=WAFER.thickness_m,
    )
    found = ordinary * weight_change(WAFER, INNER, OUTER, stated) / (seen[1] - seen[0])
    assert found == pytest.approx(force, rel=2e-3)


@pytest.mark.parametrize("name", ["Si(001)", "Si(110)"])
@pytest.mark.parametrize(
    ("kind", "place"),
    [("three-points", 0.5), ("three-points", 0.9), ("rim", None), ("centre", None)],
)
def test_a_crystal_s_sag_against_finite_elements(name, kind, place):
    """To 0.002 of q R^2/(8 D), what the budget holds, along a line that has no symmetry."""
    q, point = rotate_reduced(reduced(name), 0.4), 0.5
    told = {} if place is None else {"support_radius": place, "support_azimuth": point}
    plate = ElementPlate(q, 3, load=load(q, WAFER.thickness_m), support=kind, **told)
    unit = sag_unit(WAFER, q)
    found = plate.fitted(plate.solve(0.0, linear=True), -0.8, 0.8) * 4.0 * WAFER.thickness_m / R**2
    support = Support(kind, None if place is None else place * R, -point)
    assert weight_curvature(WAFER, support, q) == pytest.approx(found, abs=2e-3 * unit)


def test_rim_against_centre_over_the_whole_diameter():
    """N = (rho g R^2/4) [3 + nu + (1 + nu)/15], the two round plates by hand.

    The Gauss points of the fit leave 2e-6 of the logarithm over the point.
    """
    nu = 0.25
    q = isotropic_plane_stress(youngs_modulus_pa=1.0, poisson_ratio=nu)
    whole = replace(WAFER, window_low_m=-R, window_high_m=R)
    change = weight_change(whole, Support("centre"), Support("rim"), q)
    expected = DENSITY * STANDARD_GRAVITY * R**2 / 4.0 * (3.0 + nu + (1.0 + nu) / 15.0)
    found = equal_force(change, reduced_pa=q, thickness_m=WAFER.thickness_m)
    assert found == pytest.approx(expected, rel=5e-6)


@given(
    stiffer=st.floats(0.1, 10.0),
    thicker=st.floats(0.3, 3.0),
    gravity=st.floats(9.7, 9.9),
    name=st.sampled_from(["glass", "Si(001)", "Si(110)"]),
)
@settings(max_examples=20)
def test_only_weight_and_supports_are_left(stiffer, thicker, gravity, name):
    q = reduced(name)

    def force(first, second, wafer, stiffness):
        change = weight_change(wafer, first, second, stiffness)
        return equal_force(change, reduced_pa=stiffness, thickness_m=wafer.thickness_m)

    here = force(INNER, Support("rim"), WAFER, q)
    other = replace(WAFER, thickness_m=thicker * WAFER.thickness_m, gravity_m_per_s2=gravity)
    there = force(Support("rim"), INNER, other, stiffer * q)
    assert here > 0.0
    assert -there == pytest.approx(here * gravity / STANDARD_GRAVITY, rel=1e-9)


def test_points_at_an_unknown_azimuth_are_their_mean_over_all():
    q = reduced("Si(001)")
    unknown = weight_curvature(WAFER, replace(OUTER, azimuth_rad=None), q)
    turns = np.arange(24) * 2.0 * math.pi / 3.0 / 24.0
    mean = np.mean([weight_curvature(WAFER, replace(OUTER, azimuth_rad=a), q) for a in turns])
    assert unknown == pytest.approx(mean, abs=3e-3 * sag_unit(WAFER, q))


@pytest.mark.parametrize("bow", [-150e-6, 0.0, 60e-6])
def test_what_stretching_takes_off_against_finite_elements(bow):
    """300 mm x 775 um of Si(001), rim against three points at 0.6 R, and a bare bow."""
    q, radius, thickness = reduced("Si(001)"), 0.15, 775e-6
    wafer = Weighed(
        density_kg_per_m3=DENSITY,
        thickness_m=thickness,
        wafer_radius_m=radius,
        window_low_m=-0.12,
        window_high_m=0.12,
    )
    points, rim = Support("three-points", 0.6 * radius), Support("rim")
    curvature = 2.0 * bow / radius**2
    reduced_bow = curvature * radius**2 / (4.0 * thickness)
    more = []
    for told in ({"support": "three-points", "support_radius": 0.6}, {"support": "rim"}):
        plate = ElementPlate(q, 2, load=load(q, thickness, radius), bare=reduced_bow, **told)
        # A flat bare plate's linear sag, and the stretched one less the bow.
        flat = ElementPlate(q, 2, load=load(q, thickness, radius), **told)
        linear = flat.fitted(flat.solve(0.0, linear=True), -0.8, 0.8)
        bent = plate.fitted(plate.solve(0.0), -0.8, 0.8) - reduced_bow
        more.append((bent - linear) * 4.0 * thickness / radius**2)
    found = stretched_change(wafer, points, rim, q, bare_curvature_per_m=curvature)
    expected = more[1] - more[0]
    assert abs(expected) > 1e-3 * abs(weight_change(wafer, points, rim, q))
    assert found == pytest.approx(expected, rel=0.1)


@pytest.mark.parametrize("kind", ["rim", "centre", "three-points"])
def test_heights_of_the_sag_are_those_of_its_fit(kind):
    q = rotate_reduced(reduced("Si(110)"), 0.3)
    size = {"density_kg_per_m3": DENSITY, "thickness_m": 725e-6, "wafer_radius_m": R}
    support = {"reduced_pa": q, "support_radius_m": 0.06, "azimuth_rad": 0.2}
    nodes, weights = np.polynomial.legendre.leggauss(96)
    z = sag_heights(kind, 0.07 * nodes, **size, **support)
    fitted = 7.5 * weights * (1.5 * nodes**2 - 0.5) @ z / 0.07**2
    told = fit_curvature(kind, **size, **support, window_low_m=-0.07, window_high_m=0.07)
    assert fitted == pytest.approx(told, rel=1e-6)


def test_a_support_that_is_none_is_refused():
    with pytest.raises(SubstrateError, match="flat-stage"):
        weight_change(WAFER, Support("flat-stage"), Support("rim"), reduced("glass"))
    outside = Support("three-points", 2.0 * R)
    with pytest.raises(SubstrateError, match="three points"):
        weight_change(WAFER, outside, Support("rim"), reduced("glass"))
