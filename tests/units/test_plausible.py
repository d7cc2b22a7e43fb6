"""Both ends of a plausible range belong to it, for values and for the units that are proposed."""

from __future__ import annotations

import pytest

from filmstress.errors import QuantityError
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity

THICKNESS = Kind("thickness", "length", 1e-4, 2e-3, "525 um")
SHARE = Kind("share", "number", 0.0, 1.0, "0.1")


@pytest.mark.parametrize(("text", "value"), [("2 mm", 2e-3), ("100 um", 1e-4)])
def test_an_end_is_plausible(text: str, value: float) -> None:
    assert read_quantity(text, THICKNESS).value == value


@pytest.mark.parametrize(
    ("text", "proposed"), [("2 m", "'2 mm'"), ("0.1 m", "'0.1 mm'"), ("100 m", "'100 um'")]
)
def test_a_unit_that_leads_to_an_end_is_proposed(text: str, proposed: str) -> None:
    with pytest.raises(QuantityError) as caught:
        read_quantity(text, THICKNESS)
    assert proposed in caught.value.hint


def test_an_uncertainty_larger_than_a_value_that_may_be_zero() -> None:
    read = read_quantity("0.1 ± 0.5 (k=1)", SHARE)
    assert (read.value, read.u) == (0.1, 0.5)
    with pytest.raises(QuantityError, match="larger than the whole plausible range"):
        read_quantity("0.1 ± 1.5 (k=1)", SHARE)
    with pytest.raises(QuantityError, match="larger than the value itself"):
        read_quantity("200 um ± 300 um", THICKNESS)
