"""How numbers are said: units that suit, one rounding rule, a sign that cannot be overlooked."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from filmstress.records.quantity import Measured
from filmstress.report.words import (
    display_unit,
    minus,
    say_column,
    say_coverage,
    say_estimate,
    say_input,
    say_number,
    say_pair,
    say_plus_minus,
    say_rounded,
    say_value,
    say_values,
    signed,
)
from filmstress.stats.coverage import estimate

UNITS = {"pm": 1e-12, "nm": 1e-9, "um": 1e-6, "mm": 1e-3, "m": 1.0, "MPa": 1e6, "GPa": 1e9,
         "N/m": 1.0, "1/km": 1e-3, "deg": math.pi / 180.0, "kg/m^3": 1.0, "": 1.0}  # fmt: skip
SI = ("m", "Pa", "N/m", "1/m", "1", "rad", "kg/m^3")


def number(text: str) -> Decimal:
    return Decimal(text.replace("−", "-"))


@pytest.mark.parametrize(
    ("value", "unit", "told"),
    [
        (186.82e6, "Pa", "186.8 MPa"),
        (180.3156e9, "Pa", "180.3 GPa"),
        (-5.0e5, "Pa", "−0.5 MPa"),
        (675e-6, "m", "675 um"),
        (0.12, "m", "120 mm"),
        (146.48, "m", "146.5 m"),
        (12.35e-9, "m", "12.35 nm"),
        (0.0, "m", "0 mm"),
        (6.827e-3, "1/m", "6.827 1/km"),
        (math.pi / 2, "rad", "90 deg"),
        (0.28, "1", "0.28"),
        (1e-30, "m", "1.000e-18 pm"),
    ],
)
def test_a_value_in_the_unit_that_suits_it(value: float, unit: str, told: str) -> None:
    assert say_value(value, unit) == told


@pytest.mark.parametrize(
    ("value", "u", "unit", "told"),
    [
        # JCGM 100:2008, 7.2.6: two digits of the uncertainty, the value to the same place.
        (186.82e6, 4.14e6, "Pa", "+186.8 ± 4.1 MPa"),
        (-543.7e6, 12.6e6, "Pa", "−544 ± 13 MPa"),
        (6.826e-3, 0.073e-3, "1/m", "+6.826 ± 0.073 1/km"),
        (12.21e-6, 0.12e-6, "m", "+12.21 ± 0.12 um"),
        (0.0, 2.6e5, "Pa", "0.00 ± 0.26 MPa"),
        # The two digits are counted after rounding: 99.7 is 100, and its second digit the tens.
        (12e-9, 99.7e-9, "m", "+10 ± 100 nm"),
    ],
)
def test_an_estimate_by_the_one_rule(value: float, u: float, unit: str, told: str) -> None:
    one = estimate(value, unit, u=u / 1.959963984540054)
    assert say_estimate(one, sign=True) == told
    assert say_rounded(one) == told.lstrip("+").split(" ± ")[0] + " " + told.split()[-1]


def test_an_estimate_that_is_not_there_or_not_sure() -> None:
    assert say_estimate(None) == "not stated"
    unsure = say_estimate(estimate(2e8, "Pa", u=None), sign=True)
    assert unsure == "+200.0 MPa, uncertainty not known"


@given(
    st.floats(-1e12, 1e12),
    st.floats(1e-14, 1e12),
    st.sampled_from(SI),
)
@example(1e-26, 1e-27, "1/m")
@example(1.49e-24, 9e-25, "1/m")
@example(5.0, 1e-20, "m")
def test_what_is_said_is_what_was_found(value: float, u: float, unit: str) -> None:
    told = say_plus_minus(value, u, unit)
    left, right = told.split(" ± ")
    spread, _, word = right.partition(" ")
    scale = UNITS[word]
    assert len(told) < 60
    assert float(number(spread)) * scale == pytest.approx(u, rel=0.051)
    # Value: to the last digit shown, which is a tenth of the uncertainty's leading digit or less.
    shown = float(number(left)) * scale
    assert abs(shown - value) <= max(0.051 * u, 1e-6 * abs(value)) * 1.0001
    assert say_pair(value, u, unit)[0].split()[0] == left


@given(st.floats(-1e15, 1e15), st.sampled_from(SI), st.integers(1, 6))
def test_single_numbers_keep_their_digits(value: float, unit: str, digits: int) -> None:
    told, _, word = say_value(value, unit, digits).partition(" ")
    shown = float(number(told)) * UNITS[word]
    assert shown == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits), abs=1e-300)
    assert not (("." in told) and told.endswith("0") and "e" not in told)


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=4))
def test_several_numbers_share_one_unit(values: list[float]) -> None:
    told = say_values(values, "m")
    assert len({text.split(" ")[1] for text in told}) == 1


@given(st.floats(-1e6, 1e6))
def test_the_sign_is_always_shown(value: float) -> None:
    text = signed(say_number(value, 4))
    assert text[0] in "+−" or float(number(text)) == 0.0
    assert "-" not in text.split("e")[0]
    assert minus("-3") == "−3"
    assert minus("3e-9") == "3e-9"


@given(st.floats(1e-15, 1e3))
def test_a_length_stands_between_one_and_a_thousand(value: float) -> None:
    word, scale = display_unit(value, "m")
    assert value / scale < 999.5 or word == "m"
    assert value / scale > 0.9 or word == "pm"


def test_coverage_is_said_with_factor_and_freedom() -> None:
    # Student's t, 97.5 %: 2.228 for 10 and 12.706 for 1 degree of freedom (any table).
    assert say_coverage(estimate(1.0, "Pa", u=1.0, dof=10)) == (
        "95 %, k = 2.23, 10 degrees of freedom"
    )
    assert say_coverage(estimate(1.0, "Pa", u=1.0, dof=1)) == "95 %, k = 12.71, 1 degree of freedom"
    assert say_coverage(estimate(1.0, "Pa", u=1.0)) == "95 %, k = 1.96, many degrees of freedom"
    assert say_coverage(estimate(1.0, "Pa", u=None)) == "uncertainty not known"


def test_an_input_says_how_it_was_read() -> None:
    assert say_input(Measured(675e-6, "m", 2e-6, read_as="± 2 um")) == "675 um  (± 2 um)"
    assert say_input(Measured(675e-6, "m")) == "675 um"


def test_numbers_below_one_another_have_one_unit_and_as_many_decimals() -> None:
    assert say_column([-239.12e6, -226e6, 7e6], "Pa") == ["−239.1 MPa", "−226.0 MPa", "7.0 MPa"]
    told = say_column([-4.1e6, 0.17e6, -0.01e6, 7e6], "Pa", 2, sign=True)
    assert told == ["−4.1 MPa", "+0.2 MPa", "0.0 MPa", "+7.0 MPa"]
    assert say_column([0.0, 0.0], "Pa", 2) == ["0.0 MPa", "0.0 MPa"]
    assert say_column([12345e6, 1e6], "Pa", 2) == ["12345 MPa", "1 MPa"]
