"""Large deflection against a numerical solution of the axisymmetric von Karman equations."""

import math
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from filmstress.physics.deflection import (
    bifurcation,
    fit_coefficient,
    force_over_linear,
    membrane_modulus,
    reduced_curvature,
    reduced_force,
    remainder,
)
from filmstress.physics.elasticity import (
    isotropic_equivalent,
    isotropic_plane_stress,
    plane_stress_stiffness,
    rotate_reduced,
    stiffness_matrix,
)
from filmstress.substrates.catalogue import find_cut, in_plane_direction


@cache
def plate_slope(force, nu, bare=0.0):
    """Slope over 4 h_s/R of a plate with a stress-free spherical bow of K = bare.

    Equilibrium and compatibility of a plate whose strain comes from slope^2 - bare slope^2:
    L p = -(b^2 - b0^2)/x, L (b - b0) = 96 (1 - nu^2) p b/x.
    """
    start = 1e-3
    stiffness = 96.0 * (1.0 - nu**2)

    def equations(x, y):
        b, db, p, dp = y
        stretch = b**2 - (bare * x) ** 2
        return np.array(
            [db, b / x**2 - db / x + stiffness * p * b / x, dp, p / x**2 - dp / x - stretch / x]
        )

    def conditions(left, right):
        return np.array(
            [
                left[0] - start * left[1],
                left[2] - start * left[3],
                right[2],
                right[1] - bare + nu * (right[0] - bare) - (1.0 + nu) * force,
            ]
        )

    x = np.linspace(start, 1.0, 60)
    guess = np.array([(force + bare) * x, np.full_like(x, force + bare), 0 * x, 0 * x])
    solution = solve_bvp(equations, conditions, x, guess, tol=1e-9, max_nodes=20000)
    assert solution.success
    return solution.sol


def fitted(slope, low, high):
    """K of a parabola fitted evenly over low..high (radii) to the profile of a slope."""
    nodes, weights = np.polynomial.legendre.leggauss(80)
    # Heights on a fine grid by integration of the slope; even in x.
    grid = np.linspace(0.0, 1.0, 2001)
    values = slope(np.maximum(grid, 1e-3))[0] * np.where(grid < 1e-3, grid / 1e-3, 1.0)
    steps = np.diff(grid) * (values[1:] + values[:-1]) / 2.0
    heights = np.concatenate([[0.0], np.cumsum(steps)])
    x = 0.5 * (low + high) + 0.5 * (high - low) * nodes
    z = np.interp(np.abs(x), grid, heights)
    return np.polyfit(x, z, 2, w=np.sqrt(weights))[0] * 2.0


@pytest.mark.parametrize("nu", [0.1, 0.25, 0.35])
@pytest.mark.parametrize(
    "window", [(-1.0, 1.0), (-0.9, 0.9), (-0.6, 0.6), (-0.3, 0.3), (-0.8, 0.4), (0.1, 0.9)]
)
def test_coefficient_of_a_window(nu, window):
    """At small S the departure from S = K is c K^3; halving S leaves a quarter of the next term."""
    c = fit_coefficient(poisson_ratio=nu, window_low=window[0], window_high=window[1])
    found = []
    for force in (0.1, 0.05):
        k = fitted(plate_slope(force, nu), *window)
        found.append((force - k) / k**3)
    extrapolated = found[1] + (found[1] - found[0]) / 3.0
    assert extrapolated == pytest.approx(c, rel=3e-3)


@pytest.mark.parametrize(
    ("f", "expected"),
    [(1.0, 1.196429), (0.8, 1.347500), (1e-6, 1.687500)],
)
def test_coefficient_at_nu_025(f, expected):
    """(1 - nu)(31 + 10 nu)/21 over the diameter, (1 - nu)(2 + nu) at the centre; by hand."""
    c = fit_coefficient(poisson_ratio=0.25, window_low=-f, window_high=f)
    assert c == pytest.approx(expected, abs=6e-7)


# S and K of a parabola fitted over the central fraction f of the diameter, nu = 0.25; computed
# with another program (boundary-value solver, tolerance 1e-9).
NUMERICAL = [
    (0.05, 0.049852, 0.049842, 0.049833),
    (0.1, 0.098843, 0.098770, 0.098698),
    (0.2, 0.191551, 0.191019, 0.190496),
    (0.3, 0.274899, 0.273333, 0.271800),
    (0.5, 0.413466, 0.408197, 0.403080),
    (0.75, 0.546466, 0.534463, 0.522922),
    (1.0, 0.650326, 0.630325, 0.611278),
]


@pytest.mark.parametrize(("force", "full", "f09", "f08"), NUMERICAL)
def test_numerical_solutions_agree(force, full, f09, f08):
    slope = plate_slope(force, 0.25)
    for f, expected in ((1.0, full), (0.9, f09), (0.8, f08)):
        assert fitted(slope, -f, f) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("nu", [0.1, 0.25, 0.35])
@pytest.mark.parametrize("f", [0.1, 0.3, 0.6, 0.8, 1.0])
@pytest.mark.parametrize("force", [0.2, -0.4, 0.7, 1.0])
def test_remainder_bounds_the_series(nu, f, force):
    k = fitted(plate_slope(force, nu), -f, f)
    c = fit_coefficient(poisson_ratio=nu, window_low=-f, window_high=f)
    left_out = force / k - force_over_linear(coefficient=c, reduced_before=0.0, reduced_after=k)
    assert 0.0 < left_out < remainder(coefficient=c, reduced_curvature=k)


@pytest.mark.parametrize("bare", [0.05, -0.05, 0.1, -0.1])
@pytest.mark.parametrize("force", [0.1, -0.05])
def test_stress_free_bare_bow(bare, force):
    c = fit_coefficient(poisson_ratio=0.25, window_low=-0.9, window_high=0.9)
    after = fitted(plate_slope(force, 0.25, bare), -0.9, 0.9)
    factor = force_over_linear(coefficient=c, reduced_before=bare, reduced_after=after)
    linear = after - bare
    assert linear * factor == pytest.approx(force, rel=2e-3)
    # The correction itself is right, not only small.
    if abs(factor - 1.0) > 3e-3:
        assert (force / linear - 1.0) / (factor - 1.0) == pytest.approx(1.0, abs=0.12)


@given(before=st.floats(-0.3, 0.3), after=st.floats(-0.3, 0.3), c=st.floats(0.5, 2.0))
def test_an_earlier_film_is_the_difference_of_two_states(before, after, c):
    factor = force_over_linear(
        coefficient=c, reduced_before=before, reduced_after=after, stress_free_before=False
    )
    states = (after + c * after**3) - (before + c * before**3)
    assert factor * (after - before) == pytest.approx(states, abs=1e-12)


@given(
    curvature=st.floats(-0.1, 0.1),
    radius=st.floats(0.02, 0.16),
    thickness=st.floats(2e-4, 1e-3),
    modulus=st.floats(5e10, 1e12),
)
def test_reduced_quantities_agree_in_the_linear_limit(curvature, radius, thickness, modulus):
    from filmstress.physics.stoney import force_per_width

    force = force_per_width(
        modulus_pa=modulus, curvature_change_per_m=curvature, substrate_thickness_m=thickness
    )
    s = reduced_force(
        force_per_width_n_per_m=force,
        modulus_pa=modulus,
        wafer_radius_m=radius,
        substrate_thickness_m=thickness,
    )
    k = reduced_curvature(
        curvature_per_m=curvature, wafer_radius_m=radius, substrate_thickness_m=thickness
    )
    assert s == pytest.approx(k, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("diameter_mm", "thickness_um", "radius_m", "bow_um", "force"),
    [
        (100, 525, 13.593, 92.0, 615.48),
        (150, 675, 23.787, 118.2, 581.39),
        (200, 725, 39.372, 127.0, 405.22),
        (300, 775, 82.872, 135.8, 219.99),
    ],
)
def test_where_the_linear_formula_is_one_percent_off(
    diameter_mm, thickness_um, radius_m, bow_um, force
):
    """Si(001), isotropic equivalent, parabola over the full diameter; computed independently."""
    reduced = silicon("Si(001)", "[110]")
    q11, q12 = isotropic_equivalent(reduced)
    c = fit_coefficient(poisson_ratio=q12 / q11)
    k = math.sqrt(0.01 / c)
    radius, h = diameter_mm * 5e-4, thickness_um * 1e-6
    curvature = 4.0 * h * k / radius**2
    assert 1.0 / curvature == pytest.approx(radius_m, abs=6e-4)
    assert curvature * radius**2 / 2.0 * 1e6 == pytest.approx(bow_um, abs=0.06)
    modulus = reduced[0, 0] + reduced[0, 1]
    linear = modulus * h**2 * curvature / 6.0
    factor = force_over_linear(coefficient=c, reduced_before=0.0, reduced_after=k)
    assert linear * factor == pytest.approx(force, abs=0.02)


def silicon(name, e1):
    cut = find_cut(name)
    stiffness = stiffness_matrix(cut.system, cut.elastic_values())
    return plane_stress_stiffness(stiffness, cut.normal, in_plane_direction(cut, e1).vector)


@pytest.mark.parametrize("nu", [0.0, 0.165, 0.25, 0.35])
def test_isotropic_bifurcation(nu):
    """K_c = (1 + nu)^(-1/2), S_c = 2 (1 + nu)^(-3/2): Freund, JMPS 48 (2000) 1159 (memory)."""
    reduced = isotropic_plane_stress(youngs_modulus_pa=70e9, poisson_ratio=nu)
    assert membrane_modulus(reduced) == pytest.approx(70e9, rel=1e-12)
    assert bifurcation(reduced) == pytest.approx(((1 + nu) ** -0.5, 2 * (1 + nu) ** -1.5))


@pytest.mark.parametrize(
    ("name", "e1", "stretch_gpa", "k_c", "s_c"),
    [
        ("Si(001)", "[110]", 147.079092, 0.831952, 1.301644),
        ("Si(001)", "[100]", 147.079092, 0.831952, 1.301644),
        ("Si(111)", "[1-10]", 169.101189, 0.890224, 1.411001),
        ("Ge(001)", "[110]", 117.051827, 0.828109, 1.301057),
        ("GaAs(001)", "[110]", 100.181858, 0.805803, 1.228885),
    ],
)
def test_bifurcation_of_crystals(name, e1, stretch_gpa, k_c, s_c):
    """Computed independently from the same constants; the reference direction does not matter."""
    reduced = silicon(name, e1)
    assert membrane_modulus(reduced) / 1e9 == pytest.approx(stretch_gpa, abs=1e-6)
    assert bifurcation(reduced) == pytest.approx((k_c, s_c), abs=1e-6)


@given(angle=st.floats(-4.0, 4.0))
def test_bifurcation_has_no_azimuth(angle):
    reduced = silicon("Si(001)", "[110]")
    turned = bifurcation(rotate_reduced(reduced, angle))
    assert turned == pytest.approx(bifurcation(reduced), rel=1e-9)
