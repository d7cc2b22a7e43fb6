"""Scans that end short of the rim: closed forms, a numerical plate, finite elements."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from filmstress.errors import SubstrateError
from filmstress.measure.plate import plate_of
from filmstress.physics.elasticity import (
    directional_modulus,
    isotropic_equivalent,
    isotropic_plane_stress,
    rotate_reduced,
)
from filmstress.physics.nonuniform import ring_factor
from filmstress.physics.partial_scan import (
    BEYOND,
    LEAST_REACH,
    PartialScan,
    anisotropy,
    plain_local_bound,
    plain_row,
)
from filmstress.records.quantity import Measured
from filmstress.records.wafer import SubstrateSpec
from tests.physics._plate_elements import ElementPlate

PLACES = np.linspace(-1.0, 1.0, 41)


def heights(film, nu, edge=1.0):
    """Powers 0 to 6 of z(r), r in R, under a film of even powers {k: amount} within ``edge``.

    A uniform film of 1 over the whole wafer makes the curvature 1: m = (1 + nu) film.  By hand from
    Sigma = m + a mean m and r z' = integral of Sigma r dr.
    """
    a = (1.0 - nu) / (1.0 + nu)
    mean = sum(2.0 * amount * edge ** (k + 2) / (k + 2) for k, amount in film.items())
    powers = np.zeros(7)
    for k, amount in film.items():
        powers[k + 2] += (1.0 + nu) * amount / (k + 2) ** 2
    powers[2] += (1.0 + nu) * a * mean / 4.0
    return powers


def read(powers, place, reach):
    at_reach = powers * reach ** np.arange(7)
    return (
        place.local_row(PLACES) @ at_reach / reach**2,
        float(place.mean_row() @ at_reach) / reach**2,
    )


@given(nu=st.floats(0.0, 0.45), b=st.floats(-1.0, 1.0), c=st.floats(-1.0, 1.0))
def test_a_scan_to_the_rim_tells_every_film(nu, b, c):
    film = {0: 1.0, 2: b, 4: c}
    local, mean = read(heights(film, nu), PartialScan(poisson_ratio=nu, scan_share=1.0), 1.0)
    np.testing.assert_allclose(local, 1.0 + b * PLACES**2 + c * PLACES**4, atol=1e-12)
    assert mean == pytest.approx(1.0 + b / 2.0 + c / 3.0, abs=1e-12)


@given(nu=st.floats(0.0, 0.45), reach=st.floats(0.3, 0.95), edge=st.floats(0.95, 1.0))
def test_a_uniform_film_reads_alike_wherever_the_scan_ends(nu, reach, edge):
    place = PartialScan(poisson_ratio=nu, scan_share=reach**2, film_share=edge**2)
    local, mean = read(heights({0: 1.0}, nu, edge), place, reach)
    # Curvatures are those in the covered part: the ring's factor is taken out elsewhere.
    factor = ring_factor(poisson_ratio=nu, film_radius_m=edge, wafer_radius_m=1.0)
    np.testing.assert_allclose(local, factor, rtol=1e-12)
    assert mean == pytest.approx(factor, rel=1e-12)


@given(
    nu=st.floats(0.0, 0.45),
    b=st.floats(-2.0, 2.0),
    c=st.floats(-2.0, 2.0),
    reach=st.floats(0.5, 0.97),
    edge=st.floats(0.97, 1.0),
)
def test_what_the_unseen_ring_does_is_what_the_sensitivities_say(nu, b, c, reach, edge):
    film = {0: 1.0, 2: b, 4: c}
    f, g = reach**2, edge**2
    place = PartialScan(poisson_ratio=nu, scan_share=f, film_share=g)
    local, mean = read(heights(film, nu, edge), place, reach)
    factor = ring_factor(poisson_ratio=nu, film_radius_m=edge, wafer_radius_m=1.0)

    def within(share):
        return 1.0 + b * share / 2.0 + c * share**2 / 3.0

    delta = (g * within(g) - f * within(f)) / (g - f) - within(f) if g > f else 0.0
    taken = 1.0 + b * f + c * f**2 - within(f)
    true = 1.0 + b * (reach * PLACES) ** 2 + c * (reach * PLACES) ** 4
    off = factor * (delta - taken)
    np.testing.assert_allclose(local - place.local_beyond * off, factor * true, atol=1e-11)
    assert mean + place.mean_beyond * off == pytest.approx(factor * within(g), abs=1e-11)


@pytest.mark.parametrize("order", [2, 4])
@given(reach=st.floats(LEAST_REACH, 0.999))
def test_the_bound_covers_powers_of_the_radius(order, reach):
    """As the constants claim: second and fourth power, whatever the size."""
    within = 2.0 * reach**order / (order + 2.0)
    power = order + 2
    ring = 2.0 * (1.0 - reach**power) / (power * (1.0 - reach**2))
    largest = max(within, reach**order - within)
    assert abs(ring - reach**order) <= BEYOND * largest * (1.0 + 1e-2)


def test_a_scan_beyond_the_film_is_refused():
    with pytest.raises(SubstrateError, match=r"0\.9.*0\.8"):
        PartialScan(poisson_ratio=0.25, scan_share=0.81, film_share=0.64)


@given(
    nu=st.floats(0.0, 0.45),
    b=st.floats(-1.0, 1.0),
    c=st.floats(-1.0, 1.0),
    sign=st.sampled_from([-1.0, 1.0]),
)
def test_the_plain_local_equation_stays_within_its_bound(nu, b, c, sign):
    film = {0: sign, 2: b, 4: c}
    read_off = plain_row(PLACES) @ heights(film, nu)
    true = sign + b * PLACES**2 + c * PLACES**4
    bound = plain_local_bound(curvature_range_per_m=float(np.ptp(read_off)), poisson_ratio=nu)
    # The places are a fortieth apart: the range between them is a little larger than found.
    assert np.abs(read_off - true).max() <= bound * 1.02 + 1e-12


@given(nu=st.floats(0.05, 0.45), curve=st.floats(-1.0, 1.0))
def test_the_bound_holds_for_a_film_that_varies_along_the_scan(nu, curve):
    """Far from the sides, D z''' = m' there, while a uniform film makes D (1 + nu) z'' = m."""
    assume(abs(curve) > 1e-3)
    bend = curve * np.cos(3.0 * PLACES)
    true = (bend - bend.mean()) / (1.0 + nu)
    bound = plain_local_bound(curvature_range_per_m=float(np.ptp(bend)), poisson_ratio=nu)
    assert np.abs(bend - bend.mean() - true).max() <= bound


def bent(reduced, film, refinements=2):
    """Heights of the element plate under a film (x, y) -> force; a uniform 1 bends it by 1."""
    plate = ElementPlate(reduced, refinements=refinements)
    x, y = np.asarray(plate.heights.global_coordinates())
    state = plate.solve(film(x, y)[..., None] / 4.0, linear=True)

    def powers(azimuth, reach):
        at = np.linspace(-reach, reach, 121)
        line = np.stack([at * math.cos(azimuth), at * math.sin(azimuth)])
        z = plate.heights.probes(line) @ state[: plate.heights.N]
        found = np.polynomial.Polynomial.fit(at / reach, z, 6, domain=[-1, 1], window=[-1, 1])
        return found.coef

    return powers


def test_a_film_that_grows_evenly_on_finite_elements():
    nu = 0.3
    reduced = isotropic_plane_stress(youngs_modulus_pa=1.0, poisson_ratio=nu)
    reach = 0.9
    powers = bent(reduced, lambda x, _: 1.0 + 0.5 * x)(0.0, reach)
    uniform = bent(reduced, lambda x, _: 1.0 + 0.0 * x)(0.0, reach)
    place = PartialScan(poisson_ratio=nu, scan_share=reach**2)
    local = place.local_row(PLACES) @ powers / (place.local_row(PLACES) @ uniform)
    np.testing.assert_allclose(local, 1.0 + 0.5 * reach * PLACES, atol=2e-3)


@pytest.mark.parametrize("cut", ["Si(001)", "Si(110)"])
def test_the_doubt_of_a_cut_holds_on_finite_elements(cut):
    """The relation of the isotropic equivalent, within anisotropy times the range of the film."""
    reference = "[001]" if cut == "Si(110)" else "[110]"
    spec = SubstrateSpec(cut, Measured(525e-6, "m", 1e-6), azimuth_reference=reference)
    reduced = plate_of(spec).reduced
    q11, q12 = isotropic_equivalent(reduced)
    reach = 0.95
    place = PartialScan(poisson_ratio=q12 / q11, scan_share=reach**2)
    film = bent(reduced, lambda x, y: 1.0 + 0.4 * (x**2 + y**2 - 0.5))
    even = bent(reduced, lambda x, _: 1.0 + 0.0 * x)
    true = 1.0 + 0.4 * ((reach * PLACES) ** 2 - 0.5)
    bound = anisotropy(reduced) * 0.4 * reach**2
    for degrees in (0.0, 30.0, 45.0, 90.0):
        azimuth = math.radians(degrees)
        assert directional_modulus(rotate_reduced(reduced, azimuth)) > 0.0
        scale = place.local_row(PLACES) @ even(azimuth, reach)
        local = place.local_row(PLACES) @ film(azimuth, reach) / scale
        # What the unseen ring does is a part of it that has its own bound.
        unseen = place.local_beyond * 0.2 * (1.0 - reach**2)
        assert np.abs(local - true).max() <= bound + unseen


@settings(max_examples=10)
@given(nu=st.floats(0.0, 0.45))
def test_isotropic_plates_have_no_doubt_of_a_cut(nu):
    assert anisotropy(isotropic_plane_stress(youngs_modulus_pa=1.0, poisson_ratio=nu)) < 1e-12
