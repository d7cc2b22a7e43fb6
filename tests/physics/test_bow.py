"""Bow of an arc and of a parabola."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.physics.bow import arc_bow, arc_curvature, bow, curvature


@given(kappa=st.floats(-2.0, 2.0), length=st.floats(1e-3, 0.5))
def test_round_trips(kappa, length):
    there = {"curvature_per_m": kappa, "length_m": length}
    assert curvature(bow_m=bow(**there), length_m=length) == pytest.approx(kappa, abs=1e-12)
    assert arc_curvature(bow_m=arc_bow(**there), length_m=length) == pytest.approx(
        kappa, rel=1e-9, abs=1e-12
    )


@given(radius=st.floats(0.5, 1e3), length=st.floats(1e-3, 0.9))
def test_arc_against_the_circle(radius, length):
    from decimal import Decimal, localcontext

    with localcontext() as context:
        context.prec = 40
        exact = Decimal(radius) - (Decimal(radius) ** 2 - Decimal(length) ** 2 / 4).sqrt()
    computed = arc_bow(curvature_per_m=1.0 / radius, length_m=length)
    assert computed == pytest.approx(float(exact), rel=1e-12)


@given(radius=st.floats(1.0, 1e3), length=st.floats(1e-3, 0.3))
def test_parabola_is_short_by_l2_over_16_r2(radius, length):
    there = {"curvature_per_m": 1.0 / radius, "length_m": length}
    excess = arc_bow(**there) / bow(**there) - 1.0
    assert excess == pytest.approx((length / radius) ** 2 / 16.0, rel=0.02, abs=1e-14)


def test_flat_wafer_and_impossible_chord():
    assert arc_bow(curvature_per_m=0.0, length_m=0.1) == 0.0
    with pytest.raises(ValueError, match="does not fit a circle"):
        arc_bow(curvature_per_m=10.0, length_m=0.3)
