"""Sizes of the unit words against their definitions, and against a general library."""

import math
from fractions import Fraction

import pint
import pytest

from filmstress.errors import QuantityError
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.registry import registry, scale, worked_out
from filmstress.units.scales import kept_scales
from filmstress.units.spelling import canonical
from filmstress.units.words import convert, dimension_of, is_unit_word, unit_factor

# Exact definitions.  SI: The International System of Units, 9th edition (2019), tables 7 and 8.
# Inch: 25.4 mm, the agreement of 1959.  Pound-force: 0.453 592 37 kg x 9.806 65 m/s^2.  Torr:
# 101 325/760 Pa.  The last three as in NIST SP 811 (2008), Appendix B.
INCH = Fraction("0.0254")
PSI = Fraction("0.45359237") * Fraction("9.80665") / INCH**2
TORR = Fraction(101325, 760)
EXACT = {
    "pm": Fraction(1, 10**12), "nm": Fraction(1, 10**9), "um": Fraction(1, 10**6),
    "mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1), "km": Fraction(1000),
    "Å": Fraction(1, 10**10), "angstrom": Fraction(1, 10**10), "kÅ": Fraction(1, 10**7),
    "inch": INCH, "uin": INCH / 10**6, "mil": INCH / 1000,
    "rad": Fraction(1),
    "Pa": Fraction(1), "kPa": Fraction(10**3), "MPa": Fraction(10**6), "GPa": Fraction(10**9),
    "dyn/cm^2": Fraction(1, 10), "psi": PSI, "ksi": 1000 * PSI,
    "Torr": TORR, "mTorr": TORR / 1000, "mbar": Fraction(100),
    "N/m": Fraction(1), "1/m": Fraction(1), "1/km": Fraction(1, 1000),
    "kg/m^3": Fraction(1), "g/cm^3": Fraction(1000), "m/s^2": Fraction(1),
    "K": Fraction(1), "degC": Fraction(1), "ppm/K": Fraction(1, 10**6), "1/K": Fraction(1),
    "s": Fraction(1), "min": Fraction(60), "h": Fraction(3600),
    "W": Fraction(1), "kW": Fraction(1000), "V": Fraction(1), "A": Fraction(1),
    "sccm": Fraction(1), "%": Fraction(1, 100), "ppm": Fraction(1, 10**6), "": Fraction(1),
}  # fmt: skip
ALL_WORDS = {word for row in DIMENSIONS.values() for word in row.words}


def test_definitions_are_complete():
    assert EXACT.keys() | {"deg"} == ALL_WORDS


@pytest.mark.parametrize("word", sorted(EXACT))
def test_exact_size(word):
    assert scale(word).factor == EXACT[word]
    assert scale(word).offset == (Fraction("273.15") if word == "degC" else 0)


def test_the_kept_scales_are_those_that_pint_works_out():
    words = ALL_WORDS | {row.si for row in DIMENSIONS.values()}
    assert kept_scales() == {word: worked_out(word) for word in words}


def test_degree():
    assert unit_factor("deg", "angle") == math.pi / 180


# NIST SP 811 (2008), Appendix B.8, digits as printed there (recalled, not looked up again).
@pytest.mark.parametrize(
    ("word", "dimension", "printed"),
    [
        ("psi", "stress", "6.894757e3"),
        ("ksi", "stress", "6.894757e6"),
        ("Torr", "pressure", "1.333224e2"),
        ("mil", "length", "2.54e-5"),
        ("uin", "length", "2.54e-8"),
        ("dyn/cm^2", "stress", "1e-1"),
        ("mbar", "pressure", "1e2"),
        ("g/cm^3", "density", "1e3"),
        ("deg", "angle", "1.745329e-2"),
    ],
)
def test_printed_factor(word, dimension, printed):
    digits = len(printed.partition("e")[0].replace(".", "")) - 1
    assert f"{unit_factor(word, dimension):.{digits}e}" == f"{float(printed):.{digits}e}"


AS_IN_PINT = {
    "Å": "angstrom", "kÅ": "kiloangstrom", "uin": "microinch", "mil": "thou",
    "Torr": "torr", "mTorr": "millitorr", "%": "percent", "": "dimensionless",
}  # fmt: skip


@pytest.fixture(scope="module")
def outside():
    return pint.UnitRegistry()


@pytest.mark.parametrize("word", sorted(ALL_WORDS - {"degC", "sccm"}))
def test_size_against_pint(word, outside):
    theirs = outside.Quantity(1.0, AS_IN_PINT.get(word, word)).to_base_units()
    dimension = dimension_of(word) or "number"
    si = AS_IN_PINT.get("" if DIMENSIONS[dimension].si == "1" else DIMENSIONS[dimension].si)
    theirs = theirs.to(si or DIMENSIONS[dimension].si)
    assert float(scale(word).factor) == pytest.approx(theirs.magnitude, rel=1e-14)


def test_temperature_against_pint(outside):
    theirs = outside.Quantity(20.0, "degC").to("kelvin").magnitude
    assert convert(20.0, "degC", "K") == pytest.approx(theirs, rel=1e-15)


@pytest.mark.parametrize("dimension", sorted(DIMENSIONS))
def test_words_of_a_dimension_are_of_one_dimension(dimension):
    row = DIMENSIONS[dimension]
    si = "" if row.si == "1" else row.si
    assert si in row.words
    assert set(row.ladder) <= set(row.words)
    assert scale(si).factor == 1
    of_pint = {
        registry()
        .Quantity(1, {"": "dimensionless", "%": "percent"}.get(word, word.replace("^", "**")))
        .dimensionality
        for word in row.words
    }
    assert len(of_pint) == 1
    sizes = [scale(word).factor for word in row.ladder]
    assert sizes == sorted(sizes)


def test_our_registry_knows_no_prefixes():
    for word in ("mPa", "Mm", "kA", "mb", "millimeter", "in", "nPa", "uW"):
        with pytest.raises(pint.UndefinedUnitError):
            registry().Quantity(1, word)


@pytest.mark.parametrize(
    ("written", "spelt"),
    [
        ("\u00b5m", "um"), ("\u03bcm", "um"), (" um ", "um"), ("\u00b5in", "uin"),
        ("\u00c5", "Å"), ("\u212b", "Å"), ("A\u030a", "Å"), ("k\u212b", "kÅ"),
        ("dyn/cm²", "dyn/cm^2"), ("dyn/cm2", "dyn/cm^2"), ("dyn / cm^2", "dyn/cm^2"),
        ("dyn cm⁻²", "dyn/cm^2"), ("dyn·cm^-2", "dyn/cm^2"),
        ("kg/m³", "kg/m^3"), ("kg/m3", "kg/m^3"), ("kg m^-3", "kg/m^3"), ("g/cm3", "g/cm^3"),
        ("g·cm⁻³", "g/cm^3"),
        ("m^-1", "1/m"), ("m⁻¹", "1/m"), ("km^-1", "1/km"), ("km\u207b\u00b9", "1/km"),
        ("1 / m", "1/m"), ("K^-1", "1/K"), ("ppm K⁻¹", "ppm/K"), ("N m^-1", "N/m"),
        ("m^\u22121", "1/m"),
        ("\u00b0", "deg"), ("\u00b0C", "degC"), ("\u2103", "degC"), ("\u00b0 C", "degC"),
    ],
)  # fmt: skip
def test_spelling(written, spelt):
    assert canonical(written) == spelt
    assert is_unit_word(written)


@pytest.mark.parametrize("word", ["mPa", "MM", "Um", "PA", "A\u00b0", "m1", "cm4", "/m", "1", "²"])
def test_capitals_and_powers_are_not_folded(word):
    assert not is_unit_word(word)


def test_dimension_of():
    assert [dimension_of(word) for word in ("um", "A", "Pa", "Torr", "%", "foo", "")] == [
        "length", "current", "stress", "pressure", "relative", None, None,
    ]  # fmt: skip


def test_is_unit_word_of_a_dimension():
    assert is_unit_word("\u00b5m", "length")
    assert not is_unit_word("A", "length")
    assert not is_unit_word("", "number")
    assert not is_unit_word("um" + " " * 10**6 + "x")
    assert is_unit_word("MPa", "pressure")
    assert not is_unit_word("Torr", "stress")


def test_unit_factor():
    assert unit_factor("um", "length") == 1e-6
    assert unit_factor("K", "temperature") == 1.0
    with pytest.raises(QuantityError, match=r"'degC' counts from 273.15 K and has no factor"):
        unit_factor("degC", "temperature")


@pytest.mark.parametrize(
    ("value", "word", "to", "expected"),
    [
        (525.0, "um", "mm", 0.525),
        (0.25e9, "Pa", "MPa", 250.0),
        (1.0, "inch", "mil", 1000.0),
        (1.0, "MPa", "dyn/cm^2", 1e7),
        (760.0, "Torr", "Pa", 101325.0),
        (0.0, "degC", "K", 273.15),
        (273.15, "K", "degC", 0.0),
        (50.0, "%", "", 0.5),
        (math.inf, "m", "um", math.inf),
        (1e308, "km", "pm", math.inf),
    ],
)
def test_convert(value, word, to, expected):
    assert convert(value, word, to) == pytest.approx(expected, rel=1e-15)


def test_convert_keeps_nan():
    assert math.isnan(convert(math.nan, "m", "um"))


@pytest.mark.parametrize(
    ("word", "to", "message"),
    [
        ("um", "MPa", "'MPa' is a stress (MPa = megapascal); want a length"),
        ("foo", "um", "'foo' is not a unit word known here"),
        ("Torr", "sccm", "'sccm' is a gas flow; want a gas pressure"),
    ],
)
def test_convert_refuses(word, to, message):
    with pytest.raises(QuantityError) as caught:
        convert(1.0, word, to)
    assert message in caught.value.message
