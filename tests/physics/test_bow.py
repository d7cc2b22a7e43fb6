"""Bow of a parabola, beside that of an arc."""

from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.physics.bow import bow, curvature


@given(kappa=st.floats(-2.0, 2.0), length=st.floats(1e-3, 0.5))
def test_round_trips(kappa, length):
    there = {"curvature_per_m": kappa, "length_m": length}
    assert curvature(bow_m=bow(**there), length_m=length) == pytest.approx(kappa, abs=1e-12)


@given(radius=st.floats(1.0, 1e3), length=st.floats(1e-3, 0.3))
def test_a_circle_is_higher_by_l2_over_16_r2(radius, length):
    with localcontext() as context:
        context.prec = 40
        arc = Decimal(radius) - (Decimal(radius) ** 2 - Decimal(length) ** 2 / 4).sqrt()
    excess = float(arc) / bow(curvature_per_m=1.0 / radius, length_m=length) - 1.0
    assert excess == pytest.approx((length / radius) ** 2 / 16.0, rel=0.02, abs=1e-14)
