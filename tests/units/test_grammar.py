"""Every written form of a quantity, and every refusal with its words."""

import math

import pytest
from uncertainties import ufloat_fromstr

from filmstress.errors import QuantityError
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity

THICKNESS = Kind("substrate thickness", "length", 10e-6, 10e-3, "525 um ± 2 um")
LENGTH = Kind("gauge length", "length", -1.0, 1.0, "50 mm")
BOW = Kind("bare bow", "length", -1e-3, 1e-3, "0 um ± 15 um")
MODULUS = Kind("modulus", "stress", 1e8, 2e12, "260 GPa ± 20 GPa")
EXPANSION = Kind("expansion", "expansion", -1e-4, 1e-4, "2.6 ppm/K")
TEMPERATURE = Kind("temperature", "temperature", 50.0, 2000.0, "20 degC")
POISSON = Kind("Poisson's ratio", "number", 0.0, 0.5, "0.28 ± 0.01")
PROFILE = Kind("thickness profile", "relative", -1.0, 1.0, "2 % ± 1 %")
CURVATURE = Kind("curvature", "curvature", -10.0, 10.0, "0.01 1/m")
PRESSURE = Kind("pressure", "pressure", 1e-6, 2e5, "0.6 Pa")

INF = math.inf

# (text, value [m], u [m], dof, shape, echo)
FORMS = [
    ("525 um", 525e-6, None, INF, "normal", "uncertainty not stated"),
    ("525um", 525e-6, None, INF, "normal", "uncertainty not stated"),
    ("  525 um\n", 525e-6, None, INF, "normal", "uncertainty not stated"),
    ("+5.25E2 um", 525e-6, None, INF, "normal", "uncertainty not stated"),
    ("525. um", 525e-6, None, INF, "normal", "uncertainty not stated"),
    (".525 mm", 525e-6, None, INF, "normal", "uncertainty not stated"),
    ("525 um (exact)", 525e-6, 0.0, INF, "exact", "exact"),
    ("525 um(exact)", 525e-6, 0.0, INF, "exact", "exact"),
    ("525 um ± 2 um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("525um±2um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("525 um +/- 2 um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("525 ± 2 um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("525 um +- 2 um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("525 +/- 2 um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("0.525 mm ± 2 um", 525e-6, 2e-6, INF, "normal", "± 2 um, standard uncertainty (k = 1)"),
    ("525 um ± 0 um", 525e-6, 0.0, INF, "exact", "± 0 um, standard uncertainty (k = 1)"),
    (
        "525 um ± 0.4 %", 525e-6, 2.1e-6, INF, "normal",
        "± 0.4 %, standard uncertainty (k = 1): u = 2.1 um",
    ),
    (
        "525 um ± 4000 ppm", 525e-6, 2.1e-6, INF, "normal",
        "± 4000 ppm, standard uncertainty (k = 1): u = 2.1 um",
    ),
    ("525 um ± 4 um (k=2)", 525e-6, 2e-6, INF, "normal", "± 4 um at k = 2: u = 2 um"),
    ("525 ± 4 um ( k = 2 )", 525e-6, 2e-6, INF, "normal", "± 4 um at k = 2: u = 2 um"),
    (
        "525 um ± 4 um (k=2.26, dof=9)", 525e-6, 4e-6 / 2.26, 9.0, "normal",
        "± 4 um at k = 2.26, 9 degrees of freedom: u = 1.77 um",
    ),
    (
        "525 um ± 4 um (dof=9,k=2.26)", 525e-6, 4e-6 / 2.26, 9.0, "normal",
        "± 4 um at k = 2.26, 9 degrees of freedom: u = 1.77 um",
    ),
    (
        "525 um ± 2 um (dof=4)", 525e-6, 2e-6, 4.0, "normal",
        "± 2 um, standard uncertainty (k = 1), 4 degrees of freedom",
    ),
    (
        "525 um ± 20 um (limits)", 525e-6, 20e-6 / math.sqrt(3), INF, "rectangular",
        "± 20 um limits, rectangular: u = 11.5 um",
    ),
    (
        "525 um ± 4 % (limits)", 525e-6, 21e-6 / math.sqrt(3), INF, "rectangular",
        "± 4 % limits, rectangular: u = 12.1 um",
    ),
    (
        "525.0(20) um", 525e-6, 2e-6, INF, "normal",
        "(20) in the last digits, standard uncertainty (k = 1): u = 2 um",
    ),
    (
        "525.0(20)um (dof=7)", 525e-6, 2e-6, 7.0, "normal",
        "(20) in the last digits, standard uncertainty (k = 1), 7 degrees of freedom: u = 2 um",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "value", "u", "dof", "shape", "echo"), FORMS)
def test_form(text, value, u, dof, shape, echo):
    got = read_quantity(text, THICKNESS)
    assert (got.value, got.unit, got.dof, got.shape) == (value, "m", dof, Shape(shape))
    assert (got.u is None) if u is None else got.u == pytest.approx(u, rel=1e-15)
    assert got.read_as == echo
    assert got.source is Source.STATED


# Signs that mean the same; common practice, no source.
@pytest.mark.parametrize(
    "text",
    [
        "525 \u00b5m ± 2 \u00b5m",  # micro sign
        "525 \u03bcm ± 2 \u03bcm",  # Greek mu
        "525\u00a0um\u00a0±\u00a02\u00a0um",  # no-break space
        "525\u2009um\u202f±\u20092\u2007um",  # thin, narrow no-break and figure space
        "\ufeff525 um ± 2\u200b um",  # byte order mark, zero-width space
        "525 um \u00b1 2 um",
    ],
)
def test_signs_that_mean_the_same(text):
    got = read_quantity(text, THICKNESS)
    assert (got.value, got.u) == (525e-6, 2e-6)


def test_unicode_minus():
    assert read_quantity("\u22123e\u22121 um", BOW).value == -0.3e-6


@pytest.mark.parametrize(
    ("text", "kind", "value", "u", "unit"),
    [
        ("1.80(3)e11 Pa", MODULUS, 1.8e11, 3e9, "Pa"),
        ("180 GPa ± 3 GPa", MODULUS, 1.8e11, 3e9, "Pa"),
        ("2.6 ppm/K ± 5 %", EXPANSION, 2.6e-6, 0.13e-6, "1/K"),
        ("2.6e-6 1/K ± 1e-7 1/K", EXPANSION, 2.6e-6, 1e-7, "1/K"),
        ("0.01 1/m ± 1 1/km", CURVATURE, 0.01, 1e-3, "1/m"),
        # A ± of a temperature is a difference.
        ("20 degC ± 1 K", TEMPERATURE, 293.15, 1.0, "K"),
        ("20 ± 1 degC", TEMPERATURE, 293.15, 1.0, "K"),
        ("20 \u00b0C ± 1 \u00b0C", TEMPERATURE, 293.15, 1.0, "K"),
        ("300 K ± 1 %", TEMPERATURE, 300.0, 3.0, "K"),
        # Pure numbers.
        ("0.28", POISSON, 0.28, None, "1"),
        (0.28, POISSON, 0.28, None, "1"),
        (0, POISSON, 0.0, None, "1"),
        (1e-6, POISSON, 1e-6, None, "1"),
        ("0.28 ± 0.01", POISSON, 0.28, 0.01, "1"),
        ("0.28(1)", POISSON, 0.28, 0.01, "1"),
        ("0.28 ± 5 %", POISSON, 0.28, 0.014, "1"),
        ("0.28 ± 0.02 (k=2)", POISSON, 0.28, 0.01, "1"),
        ("28 %", POISSON, 0.28, None, "1"),
        # On a value in % a ± in % is absolute.
        ("2 % ± 1 %", PROFILE, 0.02, 0.01, "1"),
        ("28 % ± 1 %", POISSON, 0.28, 0.01, "1"),
        ("2 % ± 100 ppm", PROFILE, 0.02, 1e-4, "1"),
        ("0.02 ± 0.01", PROFILE, 0.02, 0.01, "1"),
        ("2.0(10) %", PROFILE, 0.02, 0.01, "1"),
    ],
)
def test_kinds(text, kind, value, u, unit):
    got = read_quantity(text, kind)
    assert got.value == pytest.approx(value, rel=1e-15)
    assert got.unit == unit
    assert got.u == (None if u is None else pytest.approx(u, rel=1e-15))


def test_gum_end_gauge():
    # JCGM 100:2008, H.1.3.1: 50.000 623 mm, U = 0.075 um at k = 3, so u = 25 nm; 18 dof.
    got = read_quantity("50.000623 mm ± 0.075 um (k=3, dof=18)", LENGTH)
    assert got.value == 0.050000623
    assert got.u == pytest.approx(25e-9, rel=1e-12)
    assert got.dof == 18


def test_gum_rectangular_limits():
    # JCGM 100:2008, 4.3.7, example 1: copper, 16.52e-6 1/K within 0.40e-6 1/K gives 0.23e-6 1/K.
    got = read_quantity("16.52 ppm/K ± 0.40 ppm/K (limits)", EXPANSION)
    assert got.u == pytest.approx(0.23e-6, abs=0.005e-6)
    assert got.shape is Shape.RECTANGULAR


@pytest.mark.parametrize(
    "digits", ["525.0(20)", "525(2)", "0.5250(1)", "1.80(3)e2", "0.5(20)", "12.(3)"]
)
def test_concise_form_against_uncertainties(digits):
    outside = ufloat_fromstr(digits)
    got = read_quantity(f"{digits} um", Kind("length", "length", -1.0, 1.0, "1 m"))
    assert got.value == pytest.approx(outside.n * 1e-6, rel=1e-15)
    assert got.u == pytest.approx(outside.s * 1e-6, rel=1e-15)


# (input, kind, words of the message, words of the hint)
REFUSED = [
    ("", THICKNESS, "nothing is written", "write it like '525 um ± 2 um'"),
    (" \t", THICKNESS, "nothing is written", "525 um"),
    ("um", THICKNESS, "does not start with a number", "525 um"),
    ("± 2 um", THICKNESS, "does not start with a number", "525 um ± 2 um"),
    ("(525 ± 2) um", THICKNESS, "does not start with a number", "525 um ± 2 um"),
    ("nan um", THICKNESS, "not a finite number", "525 um"),
    ("-inf um", THICKNESS, "not a finite number", "525 um"),
    ("525 um ± nan um", THICKNESS, "no number after the ±", "525 um"),
    ("525 um ±", THICKNESS, "no number after the ±", "525 um"),
    ("525 um ± um", THICKNESS, "no number after the ±", "525 um"),
    ("1,5 um", THICKNESS, "comma in '1,5'", "'1.5' or '15'"),
    ("1,500 um", THICKNESS, "comma in '1,500'", "'1.500' or '1500'"),
    ("1.500,5 um", THICKNESS, "comma in '1.500,5'", "separators: '1500.5'"),
    ("1,500.5 um", THICKNESS, "comma in '1,500.5'", "separators: '1500.5'"),
    ("1,500,000 nm", THICKNESS, "comma in '1,500,000'", "separators: '1500000'"),
    ("525 um ± 2,5 um", THICKNESS, "comma in '2,5'", "'2.5' or '25'"),
    ("525 um ± 4 um (k=2,26)", THICKNESS, "comma in '2,26'", "'2.26' or '226'"),
    ("1 500 um", THICKNESS, "'1 500' is a number in two parts", "'1500'"),
    ("1\u2009500 um", THICKNESS, "'1 500' is a number in two parts", "'1500'"),
    ("1'500 um", THICKNESS, "a number in two parts", "'1500'"),
    ("1_500 um", THICKNESS, "a number in two parts", "'1500'"),
    ("5.25x10^2 um", THICKNESS, "power of ten is written with an e", "1.8e11"),
    ("5.25 × 10² um", THICKNESS, "power of ten is written with an e", "1.8e11"),
    ("5.25D2 um", THICKNESS, "power of ten is written with an e", "1.8e11"),
    ("10² um", THICKNESS, "power of ten is written with an e", "1.8e11"),
    ("525", THICKNESS, "'525' has no unit; want a length", "write it like '525 um'"),
    ("0525", THICKNESS, "'0525' has no unit; want a length", "write it like '525 um'"),
    (525, THICKNESS, "'525' has no unit; want a length", "525 um"),
    (5.25e-4, THICKNESS, "'0.000525' has no unit; want a length", "write it like '0.000525 m'"),
    ("525 ± 2", THICKNESS, "'525' has no unit; want a length", "525 um"),
    ("525 ± 2 %", THICKNESS, "'525' has no unit; want a length", "525 um"),
    ("525 um ± 2", THICKNESS, "'± 2' has no unit", "write '± 2 um', or '± 2 %' for a share"),
    ("2 % ± 1", PROFILE, "'± 1' has no unit", "write '± 1 %'"),
    ("525 MPa", THICKNESS, "'525 MPa' is a stress (MPa = megapascal); want a length", "525 um"),
    ("525 um ± 2 MPa", THICKNESS, "'± 2 MPa' is a stress (MPa = megapascal); want a length", ""),
    ("525 % ± 2 um", THICKNESS, "'525 %' is a ratio; want a length", "525 um"),
    ("0.28 um", POISSON, "is a length (um = micrometre); want a pure number", "0.28 ± 0.01"),
    ("0.28 ± 0.01 um", POISSON, "'± 0.01 um' is a length", "0.28 ± 0.01"),
    ("2 ± 1 %", PROFILE, "may mean (2 ± 1) % or 2 with 1 % of it", "write '2 % ± 1 %'"),
    ("0 um ± 5 %", BOW, "'± 5 %' of zero is zero", "0 um ± 15 um"),
    ("20 degC ± 5 %", TEMPERATURE, "depends on where the scale begins", "'± 1 K'"),
    ("525 um ± -2 um", THICKNESS, "cannot be negative", ""),
    ("525 um ± 2 um ± 1 um", THICKNESS, "more than one ±", ""),
    ("525.0(20) um ± 2 um", THICKNESS, "uncertainty twice", ""),
    ("525 um ± 2 um (exact)", THICKNESS, "called exact and has an uncertainty", ""),
    ("525.0(20) um (exact)", THICKNESS, "called exact and has an uncertainty", ""),
    ("525 um (k=2)", THICKNESS, "'k' says how a ± is meant, but there is no ±", ""),
    ("525.0(20) um (k=2)", THICKNESS, "'k' says how a ± is meant, but there is no ±", ""),
    ("525 um (limits)", THICKNESS, "'limits' says how a ± is meant, but there is no ±", ""),
    ("525 um (dof=3)", THICKNESS, "'dof' belongs to an uncertainty", ""),
    ("525 um ± 2 um (k=0)", THICKNESS, "'k' must be above zero", ""),
    ("525 um ± 2 um (k=-2)", THICKNESS, "'k' must be above zero", ""),
    ("525 um ± 2 um (k=2, dof=0)", THICKNESS, "'dof' must be above zero", ""),
    ("525 um ± 2 um (k=2, k=2)", THICKNESS, "states 'k' twice", ""),
    ("525 um ± 2 um (exact, exact)", THICKNESS, "states 'exact' twice", ""),
    ("525 um ± 2 um (limits, k=2)", THICKNESS, "'limits' stands alone", ""),
    ("525 um ± 2 um (p=0.95)", THICKNESS, "'p=0.95' is not known in parentheses", "(k=2)"),
    ("525 um ± 2 um (95 %)", THICKNESS, "'95 %' is not known in parentheses", "(limits)"),
    ("525 um ± 2 um (K=2)", THICKNESS, "'K=2' is not known in parentheses", "(k=2)"),
    ("525 um ± 2 um (k=two)", THICKNESS, "'k=two' is not known in parentheses", "(k=2)"),
    ("525 um ± 2 um (limits=20)", THICKNESS, "'limits=20' is not known in parentheses", ""),
    ("525 um ()", THICKNESS, "'' is not known in parentheses", "(exact)"),
    ("525 um ± 2 um (k=2", THICKNESS, "a parenthesis without its partner", ""),
    ("525 um ± 2(1) um", THICKNESS, "not a quantity as it can be read here", "525 um ± 2 um"),
    ("525 um (exact) um", THICKNESS, "not a quantity as it can be read here", "525 um"),
    ("525e400 um", THICKNESS, "beyond any size", ""),
    ("5e-99999999999 um", THICKNESS, "beyond any size", ""),
    ("525.0(20)e999999999 um", THICKNESS, "beyond any size", ""),
    ("1" * 300 + " um", THICKNESS, "too long for a quantity", ""),
    ("1" * 190 + " um", THICKNESS, "outside the plausible range", ""),
    ("１２ um", THICKNESS, "does not start with a number", ""),
    (math.nan, POISSON, "'nan' is not a finite number", ""),
    (math.inf, POISSON, "'inf' is not a finite number", ""),
    (10**400, POISSON, "'inf' is not a finite number", ""),
    (True, POISSON, "bool is no quantity; want a pure number", "0.28 ± 0.01"),
    (None, THICKNESS, "NoneType is no quantity; want a length", "525 um ± 2 um"),
    (["525 um"], THICKNESS, "list is no quantity", "525 um ± 2 um"),
    # Sizes.
    (
        "525 mm", THICKNESS,
        "'525 mm' is outside the plausible range of substrate thickness: 10 um to 10 mm",
        "was another unit meant? '525 um' would be plausible",
    ),
    ("0 um", THICKNESS, "outside the plausible range", "write it like '525 um ± 2 um'"),
    ("28", POISSON, "outside the plausible range of Poisson's ratio: 0 to 0.5", "'28 %'"),
    (28, POISSON, "'28' is outside the plausible range", "'28 %'"),
    ("5 mm", BOW, "plausible range of bare bow: -1 mm to 1 mm", "'5 nm' or '5 um'"),
    ("525 um ± 2 mm", THICKNESS, "uncertainty in '525 um ± 2 mm' is larger than the value", "±"),
    ("1 um ± 3 mm", BOW, "larger than the whole plausible range, -1 mm to 1 mm", "±"),
    ("525 um ± 2 um (k=1e-300)", THICKNESS, "larger than the value", ""),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kind", "message", "hint"), REFUSED)
def test_refusal(text, kind, message, hint):
    with pytest.raises(QuantityError) as caught:
        read_quantity(text, kind)
    assert message in caught.value.message
    assert hint in caught.value.hint
    assert caught.value.where == kind.name
    assert caught.value.message.endswith(".")


def test_where_comes_first():
    with pytest.raises(QuantityError, match=r"^--film-thickness: '5' has no unit"):
        read_quantity("5", THICKNESS, where="--film-thickness")


def test_message_shows_no_control_characters():
    with pytest.raises(QuantityError) as caught:
        read_quantity("525 um\x1b[31m\x00", THICKNESS)
    assert str(caught.value).replace("\n", "").isprintable()


def test_range_ends_are_included():
    assert read_quantity("10 um", THICKNESS).value == 10e-6
    assert read_quantity("1 cm", THICKNESS).value == 10e-3


def test_open_ranges_in_words():
    with pytest.raises(QuantityError, match="plausible range of width: at least 1 mm"):
        read_quantity("1 um", Kind("width", "length", 1e-3, math.inf, "1 mm"))
    with pytest.raises(QuantityError, match="plausible range of width: at most 1 mm"):
        read_quantity("1 m", Kind("width", "length", -math.inf, 1e-3, "1 mm"))
    with pytest.raises(QuantityError, match="plausible range of width: any"):
        read_quantity("1" * 150 + "e300 m", Kind("width", "length", -math.inf, math.inf, "1 mm"))


class TestMeasured:
    def test_is_given_back(self):
        given = Measured(525e-6, "m", 2e-6, 9.0)
        assert read_quantity(given, THICKNESS) is given

    @pytest.mark.parametrize(
        ("given", "message"),
        [
            (Measured(525e-6, "Pa"), "a quantity in 'Pa' was given; want a length in 'm'"),
            (Measured(0.525, "m"), "'525 mm' is outside the plausible range"),
            (Measured(math.nan, "m"), "with value nan"),
            (Measured(525e-6, "m", -1e-6), "uncertainty -1e-06"),
            (Measured(525e-6, "m", math.inf), "uncertainty inf"),
            (Measured(525e-6, "m", 1e-6, 0.0), "0.0 degrees of freedom"),
            (Measured(525e-6, "m", 1e-3), "larger than the value"),
        ],
    )
    def test_is_checked(self, given, message):
        with pytest.raises(QuantityError) as caught:
            read_quantity(given, THICKNESS)
        assert message in caught.value.message


class TestKind:
    def test_unknown_dimension(self):
        with pytest.raises(ValueError, match="no dimension 'mass'"):
            Kind("load", "mass", 0.0, 1.0, "1 kg")

    @pytest.mark.parametrize(("low", "high"), [(1.0, 1.0), (2.0, 1.0), (math.nan, 1.0)])
    def test_empty_range(self, low, high):
        with pytest.raises(ValueError, match="the range runs from"):
            Kind("width", "length", low, high, "1 m")

    def test_si(self):
        assert (THICKNESS.si, POISSON.si, EXPANSION.si) == ("m", "1", "1/K")
