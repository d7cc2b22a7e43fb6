"""Quantities in messages."""

import math

import pytest

from filmstress.units.say import plain, readable, say


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (525.0, 4, "525"),
        (11.547, 3, "11.5"),
        (123456.0, 3, "123000"),
        (0.00012345, 3, "0.000123"),
        (1.8e11, 4, "1.8e11"),
        (1e-7, 4, "1e-7"),
        (-0.0, 4, "0"),
        (999999.9, 3, "1000000"),
        (-2500.0, 2, "-2500"),
        (math.inf, 4, "inf"),
        (math.nan, 4, "nan"),
    ],
)
def test_plain(value, digits, text):
    assert plain(value, digits) == text


@pytest.mark.parametrize(
    ("value", "word", "text"),
    [
        (5.25e-4, "um", "525 um"),
        (-2e8, "MPa", "-200 MPa"),
        (0.02, "%", "2 %"),
        (0.28, "", "0.28"),
        (0.28, "1", "0.28"),
        (293.15, "degC", "20 degC"),
        (math.inf, "um", "inf um"),
    ],
)
def test_say(value, word, text):
    assert say(value, word) == text


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (5.25e-4, "length", "525 um"),
        (1e-6, "length", "1 um"),
        (1e-10, "length", "0.1 nm"),
        (-1e-3, "length", "-1 mm"),
        (0.0, "length", "0 m"),
        (180e9, "stress", "180 GPa"),
        (math.pi / 4, "angle", "45 deg"),
        (0.0, "angle", "0 deg"),
        (0.005, "curvature", "5 1/km"),
        (0.5, "number", "0.5"),
        (0.5, "relative", "50 %"),
        (293.15, "temperature", "20 degC"),
        (0.0, "temperature", "0 K"),
    ],
)
def test_readable(value, dimension, text):
    assert readable(value, dimension) == text
