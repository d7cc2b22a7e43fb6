"""The exact bilayer against the integration of a laminate and against printed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.physics import bilayer

ratios = st.floats(1e-6, 2.0)
stiffness_ratios = st.floats(0.01, 20.0)


def laminate(h, m, strain):
    """Curvature and mean film stress of two bonded layers, from force and moment balance alone.

    Substrate thickness and modulus are 1, z = 0 at its free face.  Plane sections: strain is
    a + b z; the film would be free at the strain -strain (it pulls); the z axis points out of
    the film, so a bowl has b < 0 at the top under tension and kappa = -b.
    """
    edges, moduli, free = (0.0, 1.0, 1.0 + h), (1.0, m), (0.0, -strain)
    matrix, right = np.zeros((2, 2)), np.zeros(2)
    for low, high, modulus, free_strain in zip(edges, edges[1:], moduli, free, strict=False):
        moments = [(high**k - low**k) / k for k in (1, 2, 3)]
        matrix += modulus * np.array([[moments[0], moments[1]], [moments[1], moments[2]]])
        right += modulus * free_strain * np.array(moments[:2])
    a, b = np.linalg.solve(matrix, right)
    middle = 1.0 + 0.5 * h
    return -b, m * (a + b * middle + strain)


@given(h=ratios, m=stiffness_ratios)
def test_against_the_laminate(h, m):
    curvature, mean = laminate(h, m, 1e-3)
    computed = bilayer.curvature_change(
        mismatch_strain=1e-3,
        film_modulus_pa=m,
        film_thickness_m=h,
        substrate_modulus_pa=1.0,
        substrate_thickness_m=1.0,
    )
    assert computed == pytest.approx(curvature, rel=1e-8)
    stoney = curvature / (6.0 * h)
    relaxed = bilayer.relaxed_over_stoney(thickness_ratio=h, modulus_ratio=m) * stoney
    mismatch = bilayer.mismatch_over_stoney(thickness_ratio=h, modulus_ratio=m) * stoney
    assert relaxed == pytest.approx(mean, rel=1e-7)
    assert mismatch == pytest.approx(1e-3 * m, rel=1e-8)


@pytest.mark.parametrize(
    ("h", "m", "curvature", "share", "relaxed", "mismatch"),
    [
        (0.01, 1.0, 0.9705901479, 0.9609813055, 0.9901000000, 1.030301000),
        (0.05, 0.5, 0.9478659616, 0.9027859078, 0.9524404762, 1.055001488),
        (0.1, 2.0, 0.5704210745, 0.5196017424, 0.9109090909, 1.753090909),
    ],
)
def test_independently_computed_ratios(h, m, curvature, share, relaxed, mismatch):
    ratio = {"thickness_ratio": h, "modulus_ratio": m}
    assert bilayer.curvature_over_stoney(**ratio) == pytest.approx(curvature, rel=1e-9)
    found = bilayer.relaxed_over_stoney(**ratio), bilayer.mismatch_over_stoney(**ratio)
    assert found == pytest.approx((relaxed, mismatch), rel=1e-9)
    assert found[0] / found[1] == pytest.approx(share, rel=1e-9)


def test_independently_computed_bilayers():
    """A thick coating forward, and a measured curvature backwards; values computed elsewhere."""
    curvature = bilayer.curvature_change(
        mismatch_strain=1e-3,
        film_modulus_pa=360e9,
        film_thickness_m=50e-6,
        substrate_modulus_pa=180e9,
        substrate_thickness_m=500e-6,
    )
    assert curvature == pytest.approx(1.369010579, rel=1e-9)
    ratio = {"thickness_ratio": 0.1, "modulus_ratio": 2.0}
    share = bilayer.relaxed_over_stoney(**ratio) / bilayer.mismatch_over_stoney(**ratio)
    assert share * 360e6 == pytest.approx(187.0566273e6, rel=1e-9)

    stoney = 180.3156e9 * (200e-6) ** 2 * 0.5 / (6 * 4e-6)
    ratio = {"thickness_ratio": 0.02, "modulus_ratio": 0.5}
    assert stoney == pytest.approx(150.263e6, rel=1e-6)
    assert bilayer.mismatch_over_stoney(**ratio) * stoney == pytest.approx(153.38848e6, rel=1e-7)
    assert bilayer.relaxed_over_stoney(**ratio) * stoney == pytest.approx(147.31726e6, rel=1e-7)


@given(m=stiffness_ratios)
def test_thin_film_limit(m):
    """First order: mismatch grows as 1 + (4m - 1) h, relaxed mean as 1 - h."""
    h = 1e-6
    ratio = {"thickness_ratio": h, "modulus_ratio": m}
    assert (bilayer.mismatch_over_stoney(**ratio) - 1) / h == pytest.approx(4 * m - 1, abs=1e-3)
    assert (bilayer.relaxed_over_stoney(**ratio) - 1) / h == pytest.approx(-1.0, abs=1e-5)


@given(h=st.floats(1e-6, 0.1))
def test_relaxed_stress_hardly_knows_the_film_modulus(h):
    none, equal, double = (
        bilayer.relaxed_over_stoney(thickness_ratio=h, modulus_ratio=m) for m in (0.0, 1.0, 2.0)
    )
    assert equal == pytest.approx(none, rel=1.001e-3)
    assert equal == pytest.approx(double, rel=1.001e-3)
