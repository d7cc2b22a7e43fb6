"""The film's deflection against the mechanics of plates, and the random fields against theory.

M(001) = 180.3156 GPa and M(111) = 229.0825 GPa are those of c11, c12, c44 = 165.7, 63.9, 79.6 GPa
(Mason 1958, as adopted by Hopcroft, Nix & Kenny, J. MEMS 19 (2010) 229); the curvatures below were
worked out from them by hand with Stoney's relation, apart from this package.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from filmstress.errors import SubstrateError
from filmstress.records.wafer import Face
from filmstress.simulate.pair import simulate_pair
from filmstress.simulate.random_field import MODES, RandomField
from filmstress.simulate.shape import curvature_change, curvature_tensor, stiffening_left_out
from filmstress.simulate.truth import Truth
from tests.simulate.truths import quiet


def fitted_curvature(truth: Truth, azimuth_rad: float = 0.0) -> float:
    pair = simulate_pair(truth, azimuth_rad=azimuth_rad)
    x = pair.pre.x - pair.pre.x.mean()
    return float(2.0 * np.polynomial.polynomial.polyfit(x, pair.post.z - pair.pre.z, 2)[2])


def thin(truth: Truth) -> float:
    """The factor that a film that is not thin adds, to first order."""
    return 1.0 + truth.film_thickness_m / truth.substrate_thickness_m


@pytest.mark.parametrize(
    ("cut", "reference", "modulus_gpa"),
    [("Si(001)", "[110]", 180.3156), ("Si(111)", "[1-10]", 229.0825)],
)
def test_noiseless_pair_returns_the_stoney_curvature(cut, reference, modulus_gpa):
    truth = quiet(substrate=cut, azimuth_reference=reference)
    stoney = 6.0 * 100e6 * 1e-6 / (modulus_gpa * 1e9 * 525e-6**2)
    # The modulus is printed to seven digits.
    assert fitted_curvature(truth) / thin(truth) == pytest.approx(stoney, rel=5e-7)


def test_bow_over_the_scan_in_figures():
    # Worked by hand: Si(001), 525 um, 1 um at +100 MPa: 0.01207256 1/m, 12.2234661 um over 90 mm.
    truth = quiet()
    pair = simulate_pair(truth)
    rise = pair.post.z - pair.pre.z
    bow = 0.5 * (rise[0] + rise[-1]) - rise[450]
    assert bow / thin(truth) == pytest.approx(12.2234661e-6, rel=5e-7)


@pytest.mark.parametrize(("azimuth_deg", "curvature"), [(0.0, 0.012073), (90.0, 0.008218)])
def test_110_wafer_bends_differently_along_its_two_axes(azimuth_deg, curvature):
    # Equibiaxial 100 N/m on 525 um Si(110): apparent moduli 180.3156 GPa along [001] (the strain
    # there is (s11 + s12) sigma) and 264.9 GPa along [1-10]; printed to six decimals.
    truth = quiet(substrate="Si(110)", azimuth_reference="[001]")
    got = fitted_curvature(truth, math.radians(azimuth_deg)) / thin(truth)
    assert got == pytest.approx(curvature, abs=5e-7)


@pytest.mark.parametrize(
    ("cut", "reference", "force_n_per_m", "curvature"),
    [
        # Q11, Q12 (GPa): 169.75782, 10.55782; 141.05782, 39.25782; N = (h^2/6) Q kappa.
        ("Si(001)", "[110]", (160.814989, 87.682489), (0.02, 0.01)),
        ("Si(001)", "[100]", (147.630927, 100.866552), (0.02, 0.01)),
        ("Si(110)", "[001]", (156.978220, 134.452446), (0.02, 0.01)),
    ],
)
def test_principal_stresses_give_principal_curvatures(cut, reference, force_n_per_m, curvature):
    truth = quiet(
        substrate=cut,
        azimuth_reference=reference,
        stress_x_pa=force_n_per_m[0] / 1e-6,
        stress_y_pa=force_n_per_m[1] / 1e-6,
    )
    for azimuth, wanted in zip((0.0, 0.5 * math.pi), curvature, strict=True):
        got = fitted_curvature(truth, azimuth) / thin(truth)
        assert got == pytest.approx(wanted, rel=1e-7)


def test_shear_shows_in_the_line_between_the_axes():
    # N_xy = (h^2/6) Q66 2 kappa_xy with Q66 = 79.6 GPa: 21.939750 N/m for 2 kappa_xy = 0.006 1/m.
    force = np.array([[147.630927, 21.939750], [21.939750, 100.866552]])
    principal, axes = np.linalg.eigh(force)
    truth = quiet(
        azimuth_reference="[100]",
        stress_x_pa=principal[0] / 1e-6,
        stress_y_pa=principal[1] / 1e-6,
        stress_axis_rad=math.atan2(axes[1, 0], axes[0, 0]),
    )
    np.testing.assert_allclose(
        curvature_tensor(truth) / thin(truth), [0.02, 0.01, 0.006], rtol=1e-7
    )
    diagonal = fitted_curvature(truth, 0.25 * math.pi) / thin(truth)
    assert diagonal == pytest.approx(0.5 * (0.02 + 0.01 + 0.006), rel=1e-7)


def test_film_that_is_not_thin():
    # Exact laminate (Timoshenko 1925): h_s 200 um, h_f 4 um, M_s 180.3156 GPa, M_f/M_s 0.5 and
    # curvature 0.5 1/m go with a mean film stress of 147.31726 MPa.  What is left out is
    # m h^3 = 4e-6 of it.
    truth = quiet(substrate_thickness_m=200e-6, film_thickness_m=4e-6, stress_x_pa=147.31726e6)
    assert curvature_change(truth, 0.3) == pytest.approx(0.5, rel=5e-6)


def test_film_on_the_other_face_bends_the_scanned_one_the_other_way():
    up, down = quiet(), quiet(face=Face.DOWN)
    assert curvature_change(up, 0.0) > 0.0
    assert fitted_curvature(down) == pytest.approx(-fitted_curvature(up), rel=1e-12)


def test_bare_shape():
    bare = quiet(stress_x_pa=0.0, bare_bow_m=20e-6, bare_cubic_share=0.1)
    z = simulate_pair(bare).pre.z
    assert z[450] == 0.0
    assert 0.5 * (z[0] + z[-1]) == pytest.approx(20e-6)
    assert 0.5 * (z[-1] - z[0]) == pytest.approx(2e-6)


def test_quartic_part_bends_the_film_but_leaves_the_parabola():
    flat, bent = quiet(points=9001), quiet(points=9001, film_quartic_share=0.05)
    rise = simulate_pair(bent).post.z - simulate_pair(flat).post.z
    # Legendre's P4 is 1 at the ends and 3/8 in the middle, here 5 % of the bow.
    bow = curvature_change(flat, 0.0) * flat.scan_length_m**2 / 8.0
    assert rise[0] == pytest.approx(0.05 * bow)
    assert rise[4500] == pytest.approx(0.05 * bow * 3.0 / 8.0)
    # P4 is orthogonal to a parabola over the interval; even points get there as 1/points.
    assert fitted_curvature(bent) == pytest.approx(fitted_curvature(flat), rel=2e-4)


def test_unknown_substrate_is_refused():
    with pytest.raises(SubstrateError):
        simulate_pair(quiet(substrate="Sj(001)"))


# Random fields: many short draws, so that the ensemble is tested, not one wafer.


def heights(places, draws, *, rms_m=50e-9, length_m=3e-3):
    rng = np.random.default_rng(20)
    fields = (RandomField.draw(rng, rms_m=rms_m, length_m=length_m) for _ in range(draws))
    x, y = (np.array(axis) for axis in zip(*places, strict=True))
    return np.array([field(x, y) for field in fields])


def test_field_has_the_stated_rms_and_autocovariance_in_every_direction():
    draws, length = 2000, 3e-3
    places = [(0.0, 0.0), (length, 0.0), (0.0, length), (2 * length, 0.0), (0.03, 0.02)]
    z = heights(places, draws) / 50e-9
    # A product of two unit normals with correlation r has variance 1 + r^2 <= 2: four standard
    # errors are 4 sqrt(2/2000) = 0.126; chance to fail below 1e-4 for each.
    bound = 4.0 * math.sqrt(2.0 / draws)
    wanted = [1.0, math.exp(-0.5), math.exp(-0.5), math.exp(-2.0), 0.0]
    for place, covariance in enumerate(wanted):
        assert np.mean(z[:, 0] * z[:, place]) == pytest.approx(covariance, abs=bound)
    assert abs(np.mean(z)) < 4.0 * math.sqrt(1.0 / draws)


def test_field_crosses_zero_as_often_as_rice_says():
    # S. O. Rice, Bell Syst. Tech. J. 24 (1945) 46, DOI 10.1002/j.1538-7305.1945.tb00453.x: a
    # Gaussian process crosses zero sqrt(-R''(0)/R(0))/pi times a unit length, here 1/(pi l).
    # A finite number of waves has its own rms slope: 200 draws average that out.
    rng = np.random.default_rng(21)
    length, span, draws = 3e-3, 60e-3, 200
    x = np.linspace(0.0, span, 1201)
    counts = []
    for _ in range(draws):
        z = RandomField.draw(rng, rms_m=1e-7, length_m=length)(x)
        counts.append(np.count_nonzero(np.diff(np.sign(z))))
    mean, error = np.mean(counts), np.std(counts, ddof=1) / math.sqrt(draws)
    assert error < 0.3
    assert mean == pytest.approx(span / (math.pi * length), abs=4.0 * error)


def test_one_field_has_the_stated_rms_along_a_long_line():
    # Each wave has mean square amplitude^2/2 along the line, so the sum has rms^2, whatever the
    # draw, up to cross terms that a line of 2000 correlation lengths averages out.
    field = RandomField.draw(np.random.default_rng(5), rms_m=1.0, length_m=1.0)
    z = field(np.linspace(0.0, 2000.0, 20001))
    assert math.sqrt(np.mean(z**2)) == pytest.approx(1.0, abs=0.1)


def test_field_is_nearly_normal():
    # A sum of m cosines with random phases has excess kurtosis -3/(2 m).
    z = heights([(0.0, 0.0)], 4000).ravel() / 50e-9
    assert -1.5 / MODES - 4 * math.sqrt(24 / 4000) < np.mean(z**4) - 3.0 * np.mean(z**2) ** 2
    assert np.mean(z**4) - 3.0 * np.mean(z**2) ** 2 < 4 * math.sqrt(24 / 4000)


def test_field_does_not_depend_on_how_many_points_are_asked_for_at_once():
    field = RandomField.draw(np.random.default_rng(3), rms_m=1.0, length_m=1.0)
    x = np.linspace(-3.0, 3.0, 5000)
    np.testing.assert_allclose(
        field(x, 0.5)[[0, 2047, 2048, 4999]],
        [field([x[i]], [0.5])[0] for i in (0, 2047, 2048, 4999)],
        rtol=1e-12,
    )


def test_what_a_linear_plate_leaves_out():
    # For nu = 0.165 over the whole diameter c = 0.835 (2.165 - 1.165 * 11/21) = 1.29823, and
    # K = kappa R^2/(4 h) = 0.1 wants kappa = 0.084 1/m on 525 um and R = 50 mm.
    glass = {"substrate": "fused silica", "azimuth_reference": None, "scan_length_m": 100e-3}
    stress = 100e6 * 0.084 / curvature_change(quiet(**glass), 0.0)
    left = stiffening_left_out(quiet(**glass, stress_x_pa=stress))
    assert left == pytest.approx(0.0129823, rel=1e-4)
    assert stiffening_left_out(quiet(stress_x_pa=1e6)) < 1e-5
