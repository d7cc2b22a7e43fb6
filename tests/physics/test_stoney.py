"""Stoney's relation: moment balance, signs, tensor and scalar form."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.physics import stoney
from filmstress.physics.elasticity import (
    directional_modulus,
    isotropic_plane_stress,
    plane_stress_stiffness,
    rotate_reduced,
    stiffness_matrix,
)

SILICON = stiffness_matrix("cubic", {"c11": 165.7e9, "c12": 63.9e9, "c44": 79.6e9})
WAFER_110 = plane_stress_stiffness(SILICON, (1, 1, 0), (0, 0, 1))

moduli = st.floats(1e9, 1e12)
thicknesses = st.floats(1e-5, 1e-2)
curvatures = st.floats(-1.0, 1.0)
faces = st.sampled_from([1, -1])


@given(modulus=moduli, thickness=thicknesses, curvature=curvatures, face=faces)
def test_force_and_curvature_undo_each_other(modulus, thickness, curvature, face):
    force = stoney.force_per_width(
        modulus_pa=modulus,
        curvature_change_per_m=curvature,
        substrate_thickness_m=thickness,
        face_sign=face,
    )
    back = stoney.curvature_change(
        modulus_pa=modulus,
        force_per_width_n_per_m=force,
        substrate_thickness_m=thickness,
        face_sign=face,
    )
    assert back == pytest.approx(curvature, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("curvature", "face", "sign"),
    [(0.01, 1, 1.0), (-0.01, 1, -1.0), (0.01, -1, -1.0), (-0.01, -1, 1.0)],
)
def test_a_bowl_under_a_film_on_top_means_tension(curvature, face, sign):
    """Tensile film: concave on the film side (C. Nguyen, EE245 lecture 14, UC Berkeley 2009)."""
    force = stoney.force_per_width(
        modulus_pa=180e9,
        curvature_change_per_m=curvature,
        substrate_thickness_m=525e-6,
        face_sign=face,
    )
    assert math.copysign(1.0, force) == sign


@given(curvature=st.tuples(curvatures, curvatures, curvatures), thickness=thicknesses, face=faces)
def test_tensor_round_trip(curvature, thickness, face):
    force = stoney.force_tensor(
        reduced_pa=WAFER_110,
        curvature_change_per_m=curvature,
        substrate_thickness_m=thickness,
        face_sign=face,
    )
    back = stoney.curvature_tensor(
        reduced_pa=WAFER_110,
        force_per_width_n_per_m=force,
        substrate_thickness_m=thickness,
        face_sign=face,
    )
    np.testing.assert_allclose(back, curvature, rtol=1e-12, atol=1e-12)


@given(modulus=moduli, ratio=st.floats(-0.5, 0.49), thickness=thicknesses, curvature=curvatures)
def test_scalar_form_is_the_equibiaxial_case(modulus, ratio, thickness, curvature):
    reduced = isotropic_plane_stress(youngs_modulus_pa=modulus, poisson_ratio=ratio)
    force = stoney.force_tensor(
        reduced_pa=reduced,
        curvature_change_per_m=(curvature, curvature, 0.0),
        substrate_thickness_m=thickness,
    )
    scalar = stoney.force_per_width(
        modulus_pa=modulus / (1.0 - ratio),
        curvature_change_per_m=curvature,
        substrate_thickness_m=thickness,
    )
    np.testing.assert_allclose(force, (scalar, scalar, 0.0), rtol=1e-12, atol=1e-300)


@given(azimuth=st.floats(-7.0, 7.0))
def test_one_scan_of_a_110_wafer_gives_the_force_at_any_azimuth(azimuth):
    curvature = stoney.curvature_tensor(
        reduced_pa=WAFER_110,
        force_per_width_n_per_m=(100.0, 100.0, 0.0),
        substrate_thickness_m=525e-6,
    )
    along = float(stoney.curvature_row(azimuth) @ curvature)
    force = stoney.force_per_width(
        modulus_pa=directional_modulus(rotate_reduced(WAFER_110, azimuth)),
        curvature_change_per_m=along,
        substrate_thickness_m=525e-6,
    )
    assert force == pytest.approx(100.0, rel=1e-12)


def test_three_azimuths_give_the_curvature_tensor():
    """2 kappa_xy = 2 kappa_45 - kappa_0 - kappa_90, from the second derivative along a line."""
    rows = stoney.curvature_row(np.radians([0.0, 45.0, 90.0]))
    k0, k45, k90 = 0.02, 0.013, 0.01
    tensor = np.linalg.solve(rows, [k0, k45, k90])
    np.testing.assert_allclose(tensor, (k0, k90, 2 * k45 - k0 - k90), atol=1e-15)


def test_curvature_row_is_the_second_derivative_along_the_line():
    kxx, kyy, kxy = 0.02, -0.013, 0.004
    for azimuth in np.linspace(0.0, math.pi, 7):
        c, s = math.cos(azimuth), math.sin(azimuth)
        along = c * c * kxx + 2 * c * s * kxy + s * s * kyy
        row = stoney.curvature_row(azimuth)
        assert row @ np.array([kxx, kyy, 2 * kxy]) == pytest.approx(along, abs=1e-15)


@pytest.mark.parametrize(
    ("tolerance_um", "thickness_um", "share_percent"),
    [(20, 279, 8.28), (20, 525, 4.40), (20, 675, 3.42), (20, 775, 2.98)],
)
def test_what_an_unmeasured_substrate_costs(tolerance_um, thickness_um, share_percent):
    """Twice the relative standard uncertainty of a rectangular tolerance (JCGM 100, 4.3.7)."""
    step = tolerance_um / math.sqrt(3.0) * 1e-6

    def force(thickness_m):
        return stoney.force_per_width(
            modulus_pa=180e9, curvature_change_per_m=0.01, substrate_thickness_m=thickness_m
        )

    h = thickness_um * 1e-6
    slope = (force(h * (1 + 1e-6)) - force(h * (1 - 1e-6))) / (2e-6 * h)
    assert slope * step / force(h) * 100 == pytest.approx(share_percent, abs=0.006)


def test_stoney_s_equation_by_hand() -> None:
    """180 GPa x 0.01 /m x (525 um)^2 / 6 = 82.6875 N/m."""
    force = stoney.force_per_width(
        modulus_pa=180e9, curvature_change_per_m=0.01, substrate_thickness_m=525e-6
    )
    assert force == pytest.approx(82.6875, rel=1e-12)
