"""What messages and results print of a quantity is read as the same quantity."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.inputs.keys import all_keys
from filmstress.inputs.readers import Quantity
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity
from filmstress.units.say import readable, say

KINDS = sorted(
    {key.reader.kind for key in all_keys() if isinstance(key.reader, Quantity)},
    key=lambda kind: kind.name,
)


@st.composite
def values(draw: st.DrawFn) -> tuple[Kind, float]:
    """A kind of input and a size that it can have."""
    kind = draw(st.sampled_from(KINDS))
    low, high = max(kind.low, -1e12), min(kind.high, 1e12)
    value = draw(st.floats(low, high, allow_subnormal=False))
    return kind, value if abs(value) > 1e-30 else 0.0


@given(values())
def test_a_quantity_as_messages_print_it(given_: tuple[Kind, float]) -> None:
    kind, value = given_
    anything = Kind(kind.name, kind.dimension, -math.inf, math.inf, kind.example)
    read = read_quantity(readable(value, kind.dimension, 12), anything)
    # What lies below the smallest unit's last printed digit is not told.
    assert read.value == pytest.approx(value, rel=1e-10, abs=1e-12)


@given(values(), st.floats(0.0, 0.5), st.sampled_from(["", " (k=2)", " (k=2.26, dof=9)"]))
def test_a_quantity_with_its_uncertainty(
    given_: tuple[Kind, float], share: float, options: str
) -> None:
    kind, value = given_
    anything = Kind(kind.name, kind.dimension, -math.inf, math.inf, kind.example)
    spread = abs(value) * share if share > 1e-12 else 0.0
    for word in DIMENSIONS[kind.dimension].words:
        if word == "degC" or not word:
            continue
        text = f"{say(value, word, 17)} ± {say(spread, word, 17)}{options}"
        if spread == 0.0 and "dof" in options:
            continue
        read = read_quantity(text, anything)
        factor = {"": 1.0, " (k=2)": 2.0}.get(options, 2.26)
        assert read.value == pytest.approx(value, rel=1e-12, abs=1e-300)
        assert read.u == pytest.approx(spread / factor, rel=1e-12, abs=1e-300)
        assert read.dof == (9.0 if "dof" in options and spread else math.inf)
