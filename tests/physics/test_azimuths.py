"""Force per width from one, two, three and more azimuths, against the tensor form itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.physics.azimuths import force_from_azimuths, normal_row
from filmstress.physics.elasticity import (
    directional_modulus,
    isotropic_plane_stress,
    rotate_reduced,
)
from filmstress.physics.stoney import curvature_row, curvature_tensor

SI_001_110 = np.array([[169.75782, 10.55782, 0], [10.55782, 169.75782, 0], [0, 0, 50.9]]) * 1e9
SI_110_001 = np.array([[144.69583, 52.32963, 0], [52.32963, 188.02634, 0], [0, 0, 79.6]]) * 1e9
SKEW = np.array([[444.005, 78.025, -29.069], [78.025, 473.842, -5.108], [-29.069, -5.108, 145.836]])
CUTS = [SI_001_110, SI_110_001, SKEW * 1e9]
H_S = 525e-6

angles = st.floats(-math.pi, math.pi)
forces = st.tuples(*[st.floats(-500, 500)] * 3)


def curvatures(reduced: np.ndarray, force: tuple[float, ...], azimuths: np.ndarray) -> np.ndarray:
    """What scans along the azimuths see of a force per width: moment balance of the plate."""
    tensor = curvature_tensor(
        reduced_pa=reduced, force_per_width_n_per_m=np.array(force), substrate_thickness_m=H_S
    )
    return curvature_row(azimuths) @ tensor


def solved(reduced: np.ndarray, kappa: np.ndarray, azimuths: np.ndarray) -> np.ndarray:
    return H_S**2 / 6.0 * force_from_azimuths(reduced, azimuths) @ kappa


@pytest.mark.parametrize("reduced", CUTS)
@given(azimuth=angles)
def test_one_azimuth_is_stoney_with_the_modulus_of_that_azimuth(
    reduced: np.ndarray, azimuth: float
) -> None:
    force = solved(reduced, np.array([0.01]), np.array([azimuth]))
    modulus = directional_modulus(rotate_reduced(reduced, azimuth))
    want = modulus * H_S**2 * 0.01 / 6.0
    np.testing.assert_allclose(force, [want, want, 0.0], atol=1e-9 * want)


@pytest.mark.parametrize("reduced", CUTS)
@given(force=forces, first=angles)
def test_three_azimuths_give_back_any_force(
    reduced: np.ndarray, force: tuple[float, ...], first: float
) -> None:
    azimuths = first + np.radians([0.0, 60.0, 120.0])
    found = solved(reduced, curvatures(reduced, force, azimuths), azimuths)
    np.testing.assert_allclose(found, force, atol=1e-6)


@pytest.mark.parametrize("reduced", CUTS)
@given(pressure=st.floats(-500, 500), first=angles, turn=st.floats(0.3, 1.5))
def test_two_azimuths_give_back_an_equibiaxial_force(
    reduced: np.ndarray, pressure: float, first: float, turn: float
) -> None:
    azimuths = np.array([first, first + turn])
    force = (pressure, pressure, 0.0)
    found = solved(reduced, curvatures(reduced, force, azimuths), azimuths)
    np.testing.assert_allclose(found, force, atol=1e-6)


# S3 and S6: the tensor form by hand for Si(001) along <110> and Si(110) along [001], [1-10];
# N = h_s^2/6 Q kappa, no published number.
@pytest.mark.parametrize(
    ("reduced", "want"),
    [(SI_001_110, (160.814989, 87.682489)), (SI_110_001, (156.978220, 134.452446))],
)
def test_0_and_90_deg_see_both_normal_forces(
    reduced: np.ndarray, want: tuple[float, float]
) -> None:
    found = solved(reduced, np.array([0.02, 0.01]), np.radians([0.0, 90.0]))
    np.testing.assert_allclose(found[:2], want, rtol=1e-7)
    assert abs(found[2]) < 1e-9


@given(
    force=forces, turn=angles, azimuths=st.sampled_from([(0.0,), (0.0, 90.0), (0.0, 45.0, 90.0)])
)
def test_turning_the_axes_changes_nothing_along_a_line(
    force: tuple[float, ...], turn: float, azimuths: tuple[float, ...]
) -> None:
    reduced, at = SI_001_110, np.radians(azimuths)
    kappa = curvatures(reduced, force, at)
    here = normal_row(at) @ solved(reduced, kappa, at)
    turned = rotate_reduced(reduced, turn)
    there = normal_row(at - turn) @ solved(turned, kappa, at - turn)
    np.testing.assert_allclose(there, here, atol=1e-6)


def test_nearly_the_same_azimuth_twice_counts_as_one() -> None:
    reduced = isotropic_plane_stress(youngs_modulus_pa=70e9, poisson_ratio=0.2)
    kappa = np.array([0.010, 0.0101])
    found = solved(reduced, kappa, np.radians([0.0, 0.5]))
    want = 70e9 / 0.8 * H_S**2 / 6.0 * 0.01005
    np.testing.assert_allclose(found, [want, want, 0.0], rtol=1e-3, atol=0.01 * want)
