"""Worked examples and laws that stand in print, each with its source and printed digits.

Examples whose printed answer was not found are not here; values computed independently for this
project say so.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.physics import bilayer, bow, stoney
from filmstress.physics.elasticity import (
    biaxial_modulus,
    directional_modulus,
    plane_stress_stiffness,
    rotate_reduced,
    stiffness_matrix,
)
from filmstress.substrates.catalogue import find_cut, in_plane_direction

# N. Cheung, EE143 Microfabrication Technology, homework 12 and solutions, University of California,
# Berkeley, fall 2010.  The sheet's modulus is not that of a silicon cut; it is taken as typed.
SHEET_MODULUS = 1.9e11 / (1.0 - 0.272)


def sheet_force(radius_before_m, radius_after_m, thickness_m=500e-6):
    """Force of a film from two signed radii of its own face, bowl positive."""
    return stoney.force_per_width(
        modulus_pa=SHEET_MODULUS,
        curvature_change_per_m=1.0 / radius_after_m - 1.0 / radius_before_m,
        substrate_thickness_m=thickness_m,
    )


def test_oxide_stress_from_two_radii():
    """Cheung 2010, problem 2(a): dome of 300 m becomes one of 200 m; oxide of 300 nm."""
    stress = sheet_force(-300.0, -200.0) / 300e-9
    assert stress == pytest.approx(-6.05e7, rel=2e-3)  # the sheet rounds an intermediate result
    assert stress == pytest.approx(-60.414123e6, rel=1e-8)  # its inputs, computed independently


def test_signs_of_a_second_film():
    """Cheung 2010, problem 2(b): radius 240 m after a nitride, which is tensile; total compressive.

    Forces computed independently from the sheet's inputs.
    """
    oxide, nitride = sheet_force(-300.0, -200.0), sheet_force(-200.0, -240.0)
    assert oxide == pytest.approx(-18.124237, rel=1e-7)
    assert nitride == pytest.approx(9.062118, rel=1e-7)
    assert oxide + nitride == pytest.approx(sheet_force(-300.0, -240.0), rel=1e-12)
    assert oxide + nitride < 0.0 < nitride


def test_radius_from_stress_on_a_thin_substrate():
    """Cheung 2010, problem 1(b): 1 um of aluminium at 154 MPa on 50 um of silicon: 0.7 m."""
    curvature = stoney.curvature_change(
        modulus_pa=SHEET_MODULUS, force_per_width_n_per_m=154.0, substrate_thickness_m=50e-6
    )
    assert 1.0 / curvature == pytest.approx(0.7, abs=0.05)
    exact = bilayer.curvature_change(
        mismatch_strain=2.2e-3,
        film_modulus_pa=70e9,
        film_thickness_m=1e-6,
        substrate_modulus_pa=SHEET_MODULUS,
        substrate_thickness_m=50e-6,
    )
    assert 1.0 / exact == pytest.approx(0.7, abs=0.05)
    assert 1.0 / exact == pytest.approx(0.707599, abs=1e-6)  # computed independently


@pytest.mark.parametrize(("curvature", "tensile"), [(0.02, True), (-0.02, False)])
def test_shape_of_the_wafer_tells_the_sign(curvature, tensile):
    """C. Nguyen, EE245, lecture 14, UC Berkeley 2009: compressive convex, tensile concave."""
    force = stoney.force_per_width(
        modulus_pa=180e9, curvature_change_per_m=curvature, substrate_thickness_m=500e-6
    )
    assert (force > 0.0) is tensile
    ends_above_middle = bow.bow(curvature_per_m=curvature, length_m=0.1) > 0.0
    assert ends_above_middle is tensile


@given(
    edge=st.floats(0.01, 0.3),
    film=st.floats(1e-8, 1e-5),
    wafer=st.floats(1e-4, 1e-3),
    times=st.floats(1.1, 3.0),
)
def test_bow_scales_as_edge_squared_film_over_wafer_squared(edge, film, wafer, times):
    """Mader, Eitner, Kajari-Schroeder and Brendel, IEEE J. Photovolt. (2013), b^2 d/W^2.

    DOI 10.1109/JPHOTOV.2012.2218578.
    """

    def bow_of(edge_m, film_m, wafer_m):
        curvature = stoney.curvature_change(
            modulus_pa=180e9, force_per_width_n_per_m=100e6 * film_m, substrate_thickness_m=wafer_m
        )
        return bow.bow(curvature_per_m=curvature, length_m=edge_m)

    start = bow_of(edge, film, wafer)
    assert bow_of(edge * times, film, wafer) / start == pytest.approx(times**2, rel=1e-12)
    assert bow_of(edge, film * times, wafer) / start == pytest.approx(times, rel=1e-12)
    assert bow_of(edge, film, wafer * times) / start == pytest.approx(times**-2, rel=1e-12)


def e_and_nu(name, e1, normal):
    """Young's modulus along e1 and Poisson's ratio towards its in-plane partner."""
    stiffness = stiffness_matrix("cubic", find_cut(f"{name}(001)").elastic_values())
    compliance = np.linalg.inv(plane_stress_stiffness(stiffness, normal, e1))
    return 1.0 / compliance[0, 0], -compliance[1, 0] / compliance[0, 0]


def in_plane(normal, azimuth_rad):
    first = np.cross(normal, (0.3, 0.5, 0.9))
    first /= np.linalg.norm(first)
    second = np.cross(normal, first) / np.linalg.norm(normal)
    return math.cos(azimuth_rad) * first + math.sin(azimuth_rad) * second


@pytest.mark.parametrize("name", ["Si", "Ge", "GaAs", "GaP"])
def test_invariances_of_cubic_crystals(name):
    """W. A. Brantley, J. Appl. Phys. 44 (1973) 534: {111} isotropic, E/(1 - nu) one in {100}."""
    azimuths = np.radians(np.arange(0.0, 180.0, 15.0))
    e111, nu111 = np.array([e_and_nu(name, in_plane((1, 1, 1), a), (1, 1, 1)) for a in azimuths]).T
    assert np.ptp(e111) < 1e-9 * e111.mean()
    assert np.ptp(nu111) < 1e-9
    e100, nu100 = np.array([e_and_nu(name, in_plane((0, 0, 1), a), (0, 0, 1)) for a in azimuths]).T
    ratio = e100 / (1.0 - nu100)
    assert np.ptp(ratio) < 1e-9 * ratio.mean()
    assert np.ptp(e100) > 0.1 * e100.mean()
    # Not in the abstract: {110} has no such invariance.
    e110, nu110 = np.array([e_and_nu(name, in_plane((1, 1, 0), a), (1, 1, 0)) for a in azimuths]).T
    assert np.ptp(e110 / (1.0 - nu110)) > 0.1 * e110.mean()


@pytest.mark.parametrize(
    ("normal", "mean"),
    [
        ((1, 0, 0), 0.278310),
        ((1, 1, 0), 0.211923),
        ((1, 1, 1), 0.179979),
        ((3, 1, 1), 0.240791),
    ],
)
def test_mean_transverse_poisson_ratio(normal, mean):
    """Zhang et al., J. Synchrotron Rad. 21 (2014) 507, DOI 10.1107/S1600577514004962.

    The mean of nu_12 and nu_13, 1 along the plane normal, does not depend on the azimuth of 2 and
    3; stated for (100), (110), (111).  Values computed independently.
    """
    for azimuth in np.linspace(0.0, math.pi, 7):
        second = in_plane(normal, azimuth)
        third = np.cross(normal, second)
        # A plate whose axis 1 is `normal` and whose axis 2 is the transverse direction.
        _, nu12 = e_and_nu("Si", normal, third)
        _, nu13 = e_and_nu("Si", normal, second)
        assert 0.5 * (nu12 + nu13) == pytest.approx(mean, abs=6e-7)


def printed_general_modulus(c11, c12, c44, normal):
    """J. Hornstra and W. J. Bartels, J. Cryst. Growth 44 (1978) 513, as printed in textbooks."""
    l, m, n = np.array(normal) / np.linalg.norm(normal)  # noqa: E741
    mixed = (l * m) ** 2 + (m * n) ** 2 + (n * l) ** 2
    bulk = c11 + 2 * c12
    return 0.5 * bulk * (3.0 - bulk / (c11 + 2 * (2 * c44 - c11 + c12) * mixed))


def mean_response(name, normal):
    stiffness = stiffness_matrix("cubic", find_cut(f"{name}(001)").elastic_values())
    q = plane_stress_stiffness(stiffness, normal, in_plane(normal, 0.4))
    return 0.5 * (q[0, 0] + 2.0 * q[0, 1] + q[1, 1])


@pytest.mark.parametrize("name", ["Si", "Ge", "GaAs"])
@pytest.mark.parametrize("normal", [(0, 0, 1), (1, 1, 0), (1, 1, 1)])
def test_printed_modulus_of_high_symmetry_planes(name, normal):
    """The printed general formula is exact on these three planes."""
    c = find_cut(f"{name}(001)").elastic_values()
    printed = printed_general_modulus(c["c11"], c["c12"], c["c44"], normal)
    assert mean_response(name, normal) == pytest.approx(printed, rel=1e-9)


@pytest.mark.parametrize(
    ("normal", "free", "excess"),
    [
        ((1, 1, 2), 215.186063, 0.0163),
        ((0, 1, 3), 191.703806, 0.0202),
        ((3, 1, 1), 200.759873, 0.0252),
    ],
)
def test_printed_modulus_is_wrong_elsewhere(normal, free, excess):
    """On lower planes the printed formula locks shears that a free wafer does not; ours must not.

    Free-wafer values computed independently.
    """
    c = find_cut("Si(001)").elastic_values()
    printed = printed_general_modulus(c["c11"], c["c12"], c["c44"], normal)
    ours = mean_response("Si", normal)
    assert ours / 1e9 == pytest.approx(free, abs=1e-6)
    assert printed / ours - 1.0 == pytest.approx(excess, abs=6e-5)


@pytest.mark.parametrize(
    ("name", "c11", "c12", "printed_modulus", "tolerance"),
    [
        ("GaAs", 11.879, 5.376, 123.8904, 5e-4),
        ("InP", 10.110, 5.610, 94.9407, 1e-6),
        ("GaP", 14.050, 6.203, 147.7582, 1e-6),
    ],
)
def test_constants_of_another_table(name, c11, c12, printed_modulus, tolerance):
    """Table 1 of IEEE J. Quantum Electron. 35, no. 5 (1999), in 1e11 dyn/cm2 (transcription)."""
    modulus = 10.0 * (c11 + c12 - 2.0 * c12**2 / c11)
    assert modulus == pytest.approx(printed_modulus, abs=6e-5)
    cut = find_cut(f"{name}(001)")
    stiffness = stiffness_matrix("cubic", cut.elastic_values())
    ours = biaxial_modulus(plane_stress_stiffness(stiffness, cut.normal, (1, 0, 0))) / 1e9
    assert ours == pytest.approx(modulus, rel=tolerance)


ratios = st.floats(1e-4, 5.0)


@given(h=ratios, m=ratios)
def test_bimetal_thermostat(h, m):
    """S. Timoshenko, J. Opt. Soc. Am. 11 (1925) 233, in his letters (formula from a transcription).

    m = t1/t2, n = E1/E2 and the whole thickness; strip 1 is the film.  A plate has biaxial moduli.
    """
    ratio, modulus = h, m
    printed = (
        6.0
        * (1.0 + ratio) ** 2
        / (
            (1.0 + h)
            * (
                3.0 * (1.0 + ratio) ** 2
                + (1.0 + ratio * modulus) * (ratio**2 + 1 / (ratio * modulus))
            )
        )
    )
    ours = bilayer.curvature_change(
        mismatch_strain=1.0,
        film_modulus_pa=m,
        film_thickness_m=h,
        substrate_modulus_pa=1.0,
        substrate_thickness_m=1.0,
    )
    assert ours == pytest.approx(printed, rel=1e-12)


@given(h=ratios, m=ratios)
def test_multilayer_form_with_one_film(h, m):
    """C. H. Hsueh, J. Appl. Phys. 91 (2002) 9652 (closed form from a transcription), one film.

    z = 0 at the interface, c the uniform strain, t_b the bending axis; its 1/r has our sign turned.
    """
    es, ts, ef, tf, misfit = 1.0, 1.0, m, h, -1.0  # the film would shrink: it pulls
    c = (ef * tf * misfit) / (es * ts + ef * tf)
    tb = (-es * ts**2 + ef * tf**2) / (2.0 * (es * ts + ef * tf))
    over_r = (
        3.0
        * (es * c * ts**2 - ef * tf * (c - misfit) * tf)
        / (es * ts**2 * (2.0 * ts + 3.0 * tb) + ef * tf * (2.0 * tf**2 - 3.0 * tb * tf))
    )
    ours = bilayer.curvature_change(
        mismatch_strain=1.0,
        film_modulus_pa=m,
        film_thickness_m=h,
        substrate_modulus_pa=1.0,
        substrate_thickness_m=1.0,
    )
    assert ours == pytest.approx(-over_r, rel=1e-10)


def silicon(plane, e1):
    cut = find_cut(f"Si{plane}")
    stiffness = stiffness_matrix(cut.system, cut.elastic_values())
    return plane_stress_stiffness(stiffness, cut.normal, in_plane_direction(cut, e1).vector)


@pytest.mark.parametrize(
    ("modulus_gpa", "curvature", "radius", "bow_um"),
    [
        (180.3156, 0.0120725592, 82.8324787, 12.2234661),
        (229.0825, 0.00950256239, 105.234773, 9.62134442),
    ],
)
def test_plain_stoney(modulus_gpa, curvature, radius, bow_um):
    """100 MPa in 1 um on 525 um of silicon; computed independently."""
    change = stoney.curvature_change(
        modulus_pa=modulus_gpa * 1e9, force_per_width_n_per_m=100.0, substrate_thickness_m=525e-6
    )
    assert change == pytest.approx(curvature, rel=5e-9)
    assert 1.0 / change == pytest.approx(radius, rel=1e-8)
    assert bow.bow(curvature_per_m=change, length_m=0.09) == pytest.approx(bow_um * 1e-6, rel=1e-8)


@pytest.mark.parametrize(
    ("plane", "e1", "twist", "force"),
    [
        ("(001)", "[110]", 0.0, (160.814989, 87.682489, 0.0)),
        ("(001)", "[100]", 0.0, (147.630927, 100.866552, 0.0)),
        ("(001)", "[100]", 0.006, (147.630927, 100.866552, 21.939750)),
        ("(110)", "[001]", 0.0, (156.978220, 134.452446, 0.0)),
    ],
)
def test_unequal_curvatures(plane, e1, twist, force):
    """525 um of silicon, curvatures 0.02 and 0.01 1/m; computed independently."""
    computed = stoney.force_tensor(
        reduced_pa=silicon(plane, e1),
        curvature_change_per_m=(0.02, 0.01, twist),
        substrate_thickness_m=525e-6,
    )
    np.testing.assert_allclose(computed, force, atol=1e-6)


@pytest.mark.parametrize(("azimuth_deg", "curvature"), [(0.0, 0.012073), (90.0, 0.008218)])
def test_equibiaxial_film_on_a_110_wafer(azimuth_deg, curvature):
    """100 N/m on 525 um of Si(110), along [001] and [1-10]; computed independently."""
    turned = rotate_reduced(silicon("(110)", "[001]"), math.radians(azimuth_deg))
    computed = stoney.curvature_change(
        modulus_pa=directional_modulus(turned),
        force_per_width_n_per_m=100.0,
        substrate_thickness_m=525e-6,
    )
    assert computed == pytest.approx(curvature, abs=6e-7)
