"""The rounding rule: rows of the GUM, and what must hold for all numbers."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.stats.rounding import plus_minus, round_pair, significant

values = st.floats(-1e12, 1e12)
uncertainties = st.floats(1e-12, 1e12)


@pytest.mark.parametrize(
    ("value", "u", "printed"),
    [
        # JCGM 100:2008, 7.2.6: y = 10.057 62 with u = 27e-3 becomes 10.058; 28.05 becomes 28.
        (10.05762, 27e-3, ("10.058", "0.027")),
        (28.05, 28.05, ("28", "28")),
        # Its 10.47 may be rounded up to 11 there; the nearest is what we always take.
        (10.47, 10.47, ("10", "10")),
        # Two digits are counted after rounding.
        (1.0, 0.0996, ("1.00", "0.10")),
        (1.0, 0.0994, ("1.000", "0.099")),
        (1.0, 9.96, ("1", "10")),
        # Large uncertainties blank the digits before the point too.
        (56789.0, 1234.0, ("56800", "1200")),
        (3.0, 996.0, ("0", "1000")),
        # No negative zero.
        (-0.004, 0.3, ("0.00", "0.30")),
        (-0.0, 0.0, ("0", "0")),
        # Ties go to the even digit, as written in decimal: 2.675 is one, though its binary is not.
        (2.675, 0.10, ("2.68", "0.10")),
        (2.665, 0.10, ("2.66", "0.10")),
        (1.0, 0.125, ("1.00", "0.12")),
        (1.0, 0.135, ("1.00", "0.14")),
        (0.1 + 0.2, 0.0, ("0.3", "0")),
        (525.0, 0.0, ("525", "0")),
        (5_000_000.0, 0.0, ("5000000", "0")),
        (-3.2e-7, 1.4e-8, ("-0.000000320", "0.000000014")),
    ],
)
def test_pairs(value: float, u: float, printed: tuple[str, str]) -> None:
    assert round_pair(value, u) == printed


def test_scale_prints_in_the_unit_wanted() -> None:
    assert round_pair(-182.345e6, 4.1e6, scale=1e6) == ("-182.3", "4.1")
    assert round_pair(525e-6, 0.0, scale=1e-6) == ("525", "0")
    # 35e-9 / 1e-9 is 35.00000000000001 in binary: no dust in the text.
    assert round_pair(35e-9, 0.0, scale=1e-9) == ("35", "0")
    assert significant(0.0254 / 2, 4, scale=0.0254) == "0.5000"


@given(value=values, u=uncertainties)
def test_value_and_uncertainty_end_at_the_same_place(value: float, u: float) -> None:
    text, u_text = round_pair(value, u)
    assert len(text.partition(".")[2]) == len(u_text.partition(".")[2])
    place = Decimal(u_text).adjusted() - 1
    digits = u_text.replace(".", "").strip("0") or "0"
    assert len(digits) <= 2
    assert Decimal(text) % Decimal((0, (1,), place)) == 0
    half = Decimal((0, (5,), place - 1)) * Decimal("1.000000001")
    assert abs(Decimal(text) - Decimal(value)) <= half + abs(Decimal(value)) * Decimal("1e-14")
    assert abs(Decimal(u_text) - Decimal(u)) <= half


@given(value=values, u=uncertainties)
def test_no_exponent_no_negative_zero_and_the_mirror(value: float, u: float) -> None:
    text, u_text = round_pair(value, u)
    assert "E" not in (text + u_text).upper()
    assert not (text.startswith("-") and Decimal(text) == 0)
    mirrored, _ = round_pair(-value, u)
    assert Decimal(mirrored) == -Decimal(text)


@given(value=values, u=uncertainties)
def test_rounding_twice_changes_nothing(value: float, u: float) -> None:
    assume(abs(value) < 1e11 * u)  # 15 digits are all that a float can carry
    once = round_pair(value, u)
    assert round_pair(float(once[0]), float(once[1])) == once


@given(number=st.floats(1e-300, 1e300), digits=st.integers(1, 12))
def test_significant_equals_the_library_rounding(number: float, digits: int) -> None:
    """Against the interpreter's own exponent format, except at decimal ties."""
    ours = significant(number, digits)
    assert float(ours) == pytest.approx(
        float(f"{number:.{digits - 1}e}"), rel=1.01 * 10 ** (1 - digits)
    )
    assert abs(Decimal(ours) / Decimal(number) - 1) <= Decimal("0.5000001") * 10 ** Decimal(
        1 - digits
    )


@pytest.mark.parametrize(
    ("number", "digits", "printed"),
    [
        (1234567.0, 2, "1200000"),
        (9.996, 3, "10.0"),
        (0.00012345, 3, "0.000123"),
        (-0.0, 1, "0"),
        (0.0, 3, "0.00"),
        (0.25, 1, "0.2"),
        (0.35, 1, "0.4"),
        (-1.5, 4, "-1.500"),
        (math.inf, 3, "inf"),
        (-math.inf, 3, "-inf"),
        (np.float64(2.5), 1, "2"),
        (7, 2, "7.0"),
    ],
)
def test_significant(number: float, digits: int, printed: str) -> None:
    assert significant(number, digits) == printed


def test_numpy_numbers_print_as_numbers() -> None:
    assert round_pair(np.float64(1.234), np.float64(0.1)) == ("1.23", "0.10")


def test_extremes_of_double_precision() -> None:
    text, u_text = round_pair(1e308, 5e-324)
    assert float(text) == 1e308
    assert float(u_text) == 5e-324


def test_plus_minus() -> None:
    assert plus_minus(-182.345e6, 4.1e6, unit="MPa", scale=1e6) == "-182.3 ± 4.1 MPa"
    assert plus_minus(0.5, 0.1) == "0.50 ± 0.10"
    assert plus_minus(-182.345e6, None, unit="MPa", scale=1e6) == (
        "-182.3 MPa, uncertainty not known"
    )
    assert plus_minus(3.0, math.inf, unit="m") == "3.000 ± inf m"


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: round_pair(1.0, -0.1), "uncertainty of -0.1"),
        (lambda: round_pair(1.0, 0.1, scale=0.0), "unit of size 0.0"),
        (lambda: significant(1.0, 0), "0 significant digits"),
    ],
)
def test_wrong_calls_say_what_is_wanted(call, words) -> None:
    with pytest.raises(UsageError, match=words):
        call()
