"""Ranges with two dots."""

import pytest

from filmstress.errors import QuantityError
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_range

WINDOW = Kind("window", "length", -0.25, 0.25, "-30 mm..30 mm")
SHARE = Kind("share", "number", 0.0, 1.0, "0.1..0.9")


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("-30 mm..30 mm", -0.03, 0.03),
        ("-30..30 mm", -0.03, 0.03),
        ("\u221230 mm .. 30 mm", -0.03, 0.03),
        ("-3 cm..30 mm", -0.03, 0.03),
        ("-3. .. .5 cm", -0.03, 0.005),
        ("1e1..2e1 mm", 0.01, 0.02),
    ],
)
def test_range(text, low, high):
    got = read_range(text, WINDOW)
    assert [end.value for end in got] == [low, high]
    assert {end.unit for end in got} == {"m"}
    assert {end.u for end in got} == {None}


def test_range_of_pure_numbers():
    assert [end.value for end in read_range("0.1..0.9", SHARE)] == [0.1, 0.9]
    assert [end.value for end in read_range("10..90 %", SHARE)] == [0.1, 0.9]


@pytest.mark.parametrize(
    ("text", "message", "hint"),
    [
        ("30 mm..-30 mm", "does not run from low to high", "write '-30 mm..30 mm'"),
        ("30..-30 mm", "does not run from low to high", "write '-30 mm..30 mm'"),
        ("3 cm..30 mm", "does not run from low to high", "write it like '-30 mm..30 mm'"),
        ("30..-30", "has no unit", ""),
        ("-30 mm..30", "'30' has no unit; want a length", "-30 mm..30 mm"),
        ("-30..30", "has no unit; want a length", "-30 mm..30 mm"),
        ("-30 mm", "is not a range", "-30 mm..30 mm"),
        ("-30 mm to 30 mm", "is not a range", "-30 mm..30 mm"),
        ("1...5 mm", "is not a range", "-30 mm..30 mm"),
        ("1…5 mm", "is not a range", "-30 mm..30 mm"),
        ("..30 mm", "is not a range", "-30 mm..30 mm"),
        ("30 mm..", "is not a range", "-30 mm..30 mm"),
        ("", "is not a range", "-30 mm..30 mm"),
        (None, "is not a range", "-30 mm..30 mm"),
        (5, "is not a range", "-30 mm..30 mm"),
        ("-30 mm ± 1 mm..30 mm", "carry no uncertainty", "-30 mm..30 mm"),
        ("-30 mm..30.0(1) mm", "carry no uncertainty", "-30 mm..30 mm"),
        ("-30 mm..30 A", "is a current (A = ampere); want a length", "write '30 angstrom'"),
        ("-30 m..30 mm", "'-30 m' is outside the plausible range of window", "'-30 mm'"),
        ("1..2..3 mm", "is not a range", "-30 mm..30 mm"),
    ],
)
def test_refused(text, message, hint):
    with pytest.raises(QuantityError) as caught:
        read_range(text, WINDOW)
    assert message in caught.value.message
    assert hint in caught.value.hint
    assert caught.value.where == "window"


def test_where():
    with pytest.raises(QuantityError, match=r"^--window: '5' is not a range"):
        read_range("5", WINDOW, where="--window")
