"""Plane-stress stiffness against independent routes: tensors, compliances, closed forms."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from filmstress.errors import SubstrateError
from filmstress.physics.elasticity import (
    azimuth_spread,
    biaxial_modulus,
    biaxial_response,
    directional_modulus,
    isotropic_equivalent,
    isotropic_plane_stress,
    plane_stress_stiffness,
    plane_stress_stiffness_derivatives,
    response_depends_on_azimuth,
    rotate_reduced,
    rotate_stiffness,
    rotation,
    stiffness_derivatives,
    stiffness_matrix,
)

SILICON = {"c11": 165.7e9, "c12": 63.9e9, "c44": 79.6e9}
SAPPHIRE = {
    "c11": 497.3e9,
    "c12": 162.8e9,
    "c13": 116.0e9,
    "c14": 21.9e9,
    "c33": 500.9e9,
    "c44": 146.8e9,
}
CARBIDE = {"c11": 507e9, "c12": 108e9, "c13": 52e9, "c33": 547e9, "c44": 159e9}
GLASS = {"youngs_modulus": 72.7e9, "poisson_ratio": 0.165}
CRYSTALS = [
    ("cubic", SILICON),
    ("trigonal", SAPPHIRE),
    ("hexagonal", CARBIDE),
    ("isotropic", GLASS),
]

component = st.floats(-1.0, 1.0)
vectors = st.tuples(component, component, component)
crystals = st.sampled_from(CRYSTALS)
angles = st.floats(-4.0, 4.0)


@st.composite
def surfaces(draw):
    normal, e1 = np.array(draw(vectors)), np.array(draw(vectors))
    assume(np.linalg.norm(normal) > 0.1)
    assume(np.linalg.norm(np.cross(normal, e1)) > 0.1)
    return normal, e1


def tensor(stiffness):
    """Four-index tensor of a 6x6 matrix; stiffnesses carry no factors."""
    voigt = np.array([[0, 5, 4], [5, 1, 3], [4, 3, 2]])
    return stiffness[voigt[:, :, None, None], voigt[None, None, :, :]]


@given(crystal=crystals, surface=surfaces())
def test_rotation_of_the_four_index_tensor(crystal, surface):
    """Nye (1957): c'_ijkl = A_ia A_jb A_kc A_ld c_abcd, written out."""
    stiffness, axes = stiffness_matrix(*crystal), rotation(*surface)
    turned = np.einsum("ia,jb,kc,ld,abcd", axes, axes, axes, axes, tensor(stiffness))
    np.testing.assert_allclose(
        tensor(rotate_stiffness(stiffness, axes)), turned, rtol=0, atol=1e-12 * stiffness.max()
    )


@given(surface=surfaces())
def test_axes_are_right_handed_and_perpendicular(surface):
    axes = rotation(*surface)
    np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    assert axes[0] @ surface[1] > 0.0
    np.testing.assert_allclose(axes[2] * np.linalg.norm(surface[0]), surface[0], atol=1e-12)


@given(crystal=crystals, surface=surfaces())
def test_reduced_stiffness_is_the_inverse_of_the_in_plane_compliance(crystal, surface):
    stiffness, (normal, e1) = stiffness_matrix(*crystal), surface
    reduced = plane_stress_stiffness(stiffness, normal, e1)
    compliance = np.linalg.inv(rotate_stiffness(stiffness, rotation(normal, e1)))
    expected = np.linalg.inv(compliance[np.ix_([0, 1, 5], [0, 1, 5])])
    np.testing.assert_allclose(reduced, expected, rtol=0, atol=1e-10 * expected.max())


@given(crystal=crystals, surface=surfaces(), angle=angles)
def test_turning_in_the_plane_needs_no_crystal(crystal, surface, angle):
    stiffness, (normal, e1) = stiffness_matrix(*crystal), surface
    axes = rotation(normal, e1)
    along = math.cos(angle) * axes[0] + math.sin(angle) * axes[1]
    turned = rotate_reduced(plane_stress_stiffness(stiffness, normal, e1), angle)
    expected = plane_stress_stiffness(stiffness, normal, along)
    np.testing.assert_allclose(turned, expected, rtol=0, atol=1e-10 * expected.max())


@settings(max_examples=50)
@given(crystal=crystals, surface=surfaces())
def test_derivatives_against_differences(crystal, surface):
    system, constants = crystal
    stiffness = stiffness_matrix(system, constants)
    exact = plane_stress_stiffness_derivatives(
        stiffness, stiffness_derivatives(system, constants), *surface
    )
    assert set(exact) == set(constants)
    for name, value in constants.items():
        step = 1e-5 * abs(value)
        high, low = (
            plane_stress_stiffness(
                stiffness_matrix(system, {**constants, name: value + sign * step}), *surface
            )
            for sign in (1.0, -1.0)
        )
        numeric = (high - low) / (2.0 * step)
        scale = np.abs(numeric).max()
        np.testing.assert_allclose(exact[name], numeric, rtol=0, atol=1e-6 * scale + 1e-8)


@pytest.mark.parametrize(
    ("constant", "on_001", "on_111"),
    [("c11", 1.192267, 0.293770), ("c12", -0.192267, 0.226577), ("c44", 0.0, 0.479653)],
)
def test_sensitivities_of_silicon(constant, on_001, on_111):
    """d ln M/d ln c of the closed forms of M(001) and M(111), differentiated by hand."""
    stiffness = stiffness_matrix("cubic", SILICON)
    units = stiffness_derivatives("cubic", SILICON)
    for normal, e1, expected in (((0, 0, 1), (1, 0, 0), on_001), ((1, 1, 1), (1, -1, 0), on_111)):
        reduced = plane_stress_stiffness(stiffness, normal, e1)
        slope = plane_stress_stiffness_derivatives(stiffness, units, normal, e1)[constant]
        relative = biaxial_response(slope)[0] / biaxial_response(reduced)[0] * SILICON[constant]
        assert relative == pytest.approx(expected, abs=6e-7)


@given(crystal=crystals, surface=surfaces(), angle=angles)
def test_curvature_at_an_azimuth_stays_within_the_spread(crystal, surface, angle):
    reduced = plane_stress_stiffness(stiffness_matrix(*crystal), *surface)
    spread = azimuth_spread(reduced)
    curvatures = np.array(
        [1.0 / directional_modulus(rotate_reduced(reduced, angle + k * 0.05)) for k in range(63)]
    )
    mean = 0.5 * np.trace(np.linalg.inv(reduced)[:2, :2] @ np.ones((2, 2)))
    assert np.ptp(curvatures) <= spread * mean * (1.0 + 1e-9) + 1e-12 * mean
    # 63 steps of 0.05 cover the half turn in which the curvature repeats.
    assert np.ptp(curvatures) >= 0.99 * spread * mean - 1e-12 * mean


def test_a_110_wafer_has_two_moduli_and_says_so():
    """(110): the strain along [001] is that of a cube axis, (s11 + s12) sigma; 180.3 GPa."""
    reduced = plane_stress_stiffness(stiffness_matrix("cubic", SILICON), (1, 1, 0), (0, 0, 1))
    assert response_depends_on_azimuth(reduced)
    compliance = np.linalg.inv(stiffness_matrix("cubic", SILICON))
    cube_axis = 1.0 / (compliance[0, 0] + compliance[0, 1])
    assert directional_modulus(reduced) == pytest.approx(cube_axis, rel=1e-12)
    with pytest.raises(SubstrateError, match=r"(?s)differs by 38\.00% .*azimuth reference"):
        biaxial_modulus(reduced)


def test_isotropic_plate():
    """Q11 = E/(1 - nu^2), M = E/(1 - nu): any book on plates."""
    from_tensor = plane_stress_stiffness(stiffness_matrix("isotropic", GLASS), (1, 2, 3), (1, 0, 0))
    reduced = isotropic_plane_stress(youngs_modulus_pa=72.7e9, poisson_ratio=0.165)
    np.testing.assert_allclose(from_tensor, reduced, atol=1.0)
    assert biaxial_modulus(reduced) == pytest.approx(72.7e9 / (1.0 - 0.165), rel=1e-12)
    assert not response_depends_on_azimuth(reduced)
    np.testing.assert_allclose(isotropic_equivalent(reduced), (reduced[0, 0], reduced[0, 1]))


@given(crystal=crystals, surface=surfaces(), angle=angles)
def test_isotropic_equivalent_is_the_mean_over_azimuths(crystal, surface, angle):
    reduced = plane_stress_stiffness(stiffness_matrix(*crystal), *surface)
    turned = [rotate_reduced(reduced, angle + k * math.pi / 8) for k in range(8)]
    q11 = np.mean([q[0, 0] for q in turned])
    q12 = np.mean([q[0, 1] for q in turned])
    np.testing.assert_allclose(isotropic_equivalent(reduced), (q11, q12), rtol=1e-10)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: stiffness_matrix("cubic", CARBIDE), "made of c11, c12, c44; came c11, c12, c13"),
        (lambda: stiffness_matrix("monoclinic", {}), "no crystal system.*cubic, hexagonal"),
        (
            lambda: stiffness_matrix("isotropic", {"youngs_modulus": 1e9, "poisson_ratio": 0.5}),
            "no finite stiffness",
        ),
        (
            lambda: isotropic_plane_stress(youngs_modulus_pa=-1.0, poisson_ratio=0.2),
            "more than zero",
        ),
        (
            lambda: isotropic_plane_stress(youngs_modulus_pa=1e9, poisson_ratio=0.7),
            "ratio is 0.7; want -1 to 0.5",
        ),
        (lambda: rotation((0, 0, 1), (0, 0, 3)), "parallel to the surface normal"),
        (lambda: rotation((0, 0, 0), (0, 0, 3)), "must have a length"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(SubstrateError, match=f"(?s){words}"):
        call()
