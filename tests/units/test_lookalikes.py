"""Words that look like a unit: each refused by name, with what to write instead."""

import pint
import pytest

from filmstress.errors import QuantityError
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.kinds import Kind
from filmstress.units.lookalikes import LOOKALIKES
from filmstress.units.quantity import read_quantity
from filmstress.units.words import dimension_of, unit_factor

EXAMPLES = {
    "length": "525 um", "angle": "45 deg", "stress": "-200 MPa", "pressure": "0.6 Pa",
    "force per length": "50 N/m", "curvature": "0.01 1/m", "density": "2330 kg/m^3",
    "temperature": "20 degC", "expansion": "2.6 ppm/K", "time": "60 s", "power": "500 W",
    "voltage": "300 V", "current": "2 A", "flow": "20 sccm", "relative": "2 %", "number": "0.28",
}  # fmt: skip

# (text, dimension wanted, message, hint)
REFUSED = [
    (
        "1000 A", "length",
        "'1000 A' is a current (A = ampere); want a length.",
        "write '1000 angstrom' or '100 nm'",
    ),
    ("1 kA", "length", "'kA' is a current (kA = kiloampere)", "write '1 kÅ' or '100 nm'"),
    ("5000 Angstrom", "length", "'Angstrom' is not a unit word known here (capitals count)",
     "write '5000 angstrom'"),
    ("5000 ANGSTROM", "length", "(capitals count)", "write '5000 angstrom'"),
    ("525 micron", "length", "'micron' is a name, not a unit word", "write '525 um'"),
    ("525 microns", "length", "'microns' is a name", "write '525 um'"),
    ("525 u", "length", "'u' is a name", "write '525 um'"),
    ("525 \u00b5", "length", "is a name", "write '525 um'"),
    ("525 Um", "length", "(capitals count)", "write '525 um'"),
    ("525 UM", "length", "(capitals count)", "write '525 um'"),
    ("525 micrometer", "length", "not a unit word known here", "write '525 um'"),
    ("525 micrometres", "length", "not a unit word known here", "write '525 um'"),
    ("5 nanometers", "length", "not a unit word known here", "write '5 nm'"),
    ("20 mils", "length", "'mils' is not the word used here", "write '20 mil'"),
    ("20 thou", "length", "thousandth of an inch", "write '20 mil'"),
    ("6 in", "length", "'in' is not the word used here for an inch", "write '6 inch'"),
    ("6 inches", "length", "used here for an inch", "write '6 inch'"),
    ('6"', "length", "used here for an inch", "write '6 inch'"),
    ("6\u2033", "length", "used here for an inch", "write '6 inch'"),
    ("6''", "length", "used here for an inch", "write '6 inch'"),
    ("1'", "length", "a foot or a minute of arc", "write '12 inch'"),
    ("150 Mm", "length", "Mm = megametre", "write '150 mm'"),
    ("150 MM", "length", "(capitals count)", "write '150 mm'"),
    ("0.15 M", "length", "no unit by itself (mega, molar or metre)", "write '0.15 m'"),
    ("525 kg", "length", "a mass (kg = kilogram); want a length", "words for a length: pm, nm, um"),
    ("525 h", "length", "is a time (h = hour); want a length", "write it like '525 um'"),
    ("525 foo", "length", "'foo' is not a unit word known here; want a length", "words for"),
    ("130 mPa", "stress", "a thousandth of a pascal (mPa = millipascal); want a stress",
     "write '130 MPa'"),
    ("130 Mpa", "stress", "'Mpa' is not a unit word known here (capitals count)",
     "write '130 MPa'"),
    ("130 mpa", "stress", "(capitals count)", "write '130 MPa'"),
    ("130 MPA", "stress", "(capitals count)", "write '130 MPa'"),
    ("3 GPA", "stress", "(capitals count)", "write '3 GPa'"),
    ("3 Gpa", "stress", "(capitals count)", "write '3 GPa'"),
    ("12 M", "stress", "no unit by itself (mega, molar or metre)", "write '12 MPa'"),
    ("3 G", "stress", "no unit by itself (giga of what?)", "write '3 GPa'"),
    ("5 mb", "stress", "a millibar or a millibarn", "write '500 Pa'"),
    ("50 mTorr", "stress", "is a gas pressure (mTorr = millitorr); want a stress", "-200 MPa"),
    ("200 N", "stress", "a force (N = newton); want a stress", "words for a stress: Pa"),
    ("200 N/mm^2", "stress", "a unit that is not used here", "write '200 MPa'"),
    ("200 N/mm²", "stress", "a unit that is not used here", "write '200 MPa'"),
    ("2e9 dyn/cm", "stress", "a force per width", "write '2e9 dyn/cm^2'"),
    ("2e9 dynes/cm2", "stress", "not the word used here", "write '2e9 dyn/cm^2'"),
    ("1.8 TPa", "stress", "a unit that is not used here", "write '1800 GPa'"),
    ("130 KSI", "stress", "(capitals count)", "write '130 ksi'"),
    ("50 N/m", "stress", "'50 N/m' is a force per width; want a stress", "-200 MPa"),
    ("5 mPa", "pressure", "millipascal", "write '0.005 Pa'"),
    ("5 mb", "pressure", "a millibar or a millibarn", "write '5 mbar'"),
    ("5 mtorr", "pressure", "(capitals count)", "write '5 mTorr'"),
    ("5 torr", "pressure", "(capitals count)", "write '5 Torr'"),
    ("5 mT", "pressure", "millitesla", "write '5 mTorr'"),
    ("2 hPa", "pressure", "a unit that is not used here", "write '2 mbar'"),
    ("1 bar", "pressure", "a unit that is not used here", "write '1000 mbar'"),
    ("50 N", "force per length", "a force (N = newton); want a force per width", "'50 N/m'"),
    ("50 N/mm", "force per length", "a force per width in a unit that is not", "'50000 N/m'"),
    ("50 mN/m", "force per length", "a unit that is not used here", "write '0.05 N/m'"),
    ("2330 kg", "density", "a mass (kg = kilogram); want a density", "write '2330 kg/m^3'"),
    ("2.33 g", "density", "a mass (g = gram); want a density", "write '2.33 g/cm^3'"),
    ("0.01/m", "curvature", "runs into the number before it", "write '0.01 1/m'"),
    ("0.01 1/cm", "curvature", "a unit that is not used here", "write '1 1/m'"),
    ("10 m", "curvature", "is a length (m = metre); want a curvature", "0.01 1/m"),
    ("2.6e-6/K", "expansion", "runs into the number before it", "write '2.6e-6 1/K'"),
    ("2.6 ppm", "expansion", "is a ratio; want a thermal expansion", "write '2.6 ppm/K'"),
    ("20 C", "temperature", "an electric charge (C = coulomb)", "write '20 degC'"),
    ("20 deg", "temperature", "is an angle (deg = degree)", "write '20 degC'"),
    ("20 celsius", "temperature", "not the word used here", "write '20 degC'"),
    ("300 k", "temperature", "no unit by itself (kilo of what?)", "write '300 K'"),
    ("45 degrees", "angle", "not a unit word known here", "write '45 deg'"),
    ("45 Deg", "angle", "(capitals count)", "write '45 deg'"),
    ("60 sec", "time", "not the word used here", "write '60 s'"),
    ("2 hours", "time", "not a unit word known here", "write '2 h'"),
    ("20 SCCM", "flow", "(capitals count)", "write '20 sccm'"),
    ("500 w", "power", "(capitals count)", "write '500 W'"),
    ("2 mA", "current", "a unit that is not used here", "write '0.002 A'"),
    ("2 percent", "relative", "not the word used here", "write '2 %'"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "dimension", "message", "hint"), REFUSED)
def test_refused_by_name(text, dimension, message, hint):
    with pytest.raises(QuantityError) as caught:
        read_quantity(text, Kind("input", dimension, -1e12, 1e12, EXAMPLES[dimension]))
    assert message in caught.value.message
    assert hint in caught.value.hint
    assert f"want {DIMENSIONS[dimension].phrase}" in caught.value.message


def test_whole_message():
    kind = Kind("film thickness", "length", 1e-10, 1e-4, "500 nm")
    with pytest.raises(QuantityError) as caught:
        read_quantity("1000 A", kind)
    assert str(caught.value) == (
        "film thickness: '1000 A' is a current (A = ampere); want a length.\n"
        "  write '1000 angstrom' or '100 nm'"
    )


@pytest.mark.parametrize(
    ("word", "message", "hint"),
    [
        ("A", "'A' is a current (A = ampere); want a length.", "write 'angstrom'"),
        ("in", "'in' is not the word used here for an inch; want a length.", "write 'inch'"),
        ("microns", "'microns' is a name", "write 'um'"),
        ("MPa", "'MPa' is a stress", "words for a length: pm, nm, um"),
        ("", "there is no unit word", "words for a length"),
        ("x" * 1000, "is not a unit word known here", "words for a length"),
    ],
)
def test_column_unit_refused_by_name(word, message, hint):
    with pytest.raises(QuantityError) as caught:
        unit_factor(word, "length", where="scan.csv, line 1")
    assert message in caught.value.message
    assert hint in caught.value.hint
    assert caught.value.where == "scan.csv, line 1"
    assert len(str(caught.value)) < 250


def test_examples_can_be_read():
    for dimension, example in EXAMPLES.items():
        read_quantity(example, Kind("input", dimension, -1e12, 1e12, example))


def test_only_what_is_admitted_is_advised():
    for word, look_alike in LOOKALIKES.items():
        assert bool(look_alike.what) == (dimension_of(word) is None), word
        for dimension, repairs in look_alike.repairs.items():
            assert word not in DIMENSIONS[dimension].words
            for _, advised in repairs:
                assert advised in DIMENSIONS[dimension].words, (word, advised)


# Look-alikes that are units elsewhere, as pint's own registry spells them.
ELSEWHERE = {
    "ft": "foot", "mPa": "millipascal", "TPa": "terapascal", "bar": "bar", "hPa": "hectopascal",
    "mN/m": "millinewton/meter", "kN/m": "kilonewton/meter", "N/mm": "newton/millimeter",
    "dyn/cm": "dyne/centimeter", "N/m^2": "newton/meter**2", "N/mm^2": "newton/millimeter**2",
    "1/cm": "1/centimeter", "1/mm": "1/millimeter", "mrad": "milliradian", "mA": "milliampere",
    "kV": "kilovolt", "mb": "millibar",
}  # fmt: skip
# Where the advice takes the word for another, meant one.
ANOTHER_IS_MEANT = {("mPa", "stress"), ("dyn/cm", "stress")}


def test_advised_numbers_against_pint():
    outside = pint.UnitRegistry()
    for word, name in ELSEWHERE.items():
        for dimension, repairs in LOOKALIKES[word].repairs.items():
            if (word, dimension) in ANOTHER_IS_MEANT:
                continue
            for factor, advised in repairs:
                si = outside.Quantity(1.0, name).to_base_units()
                si = si.to(DIMENSIONS[dimension].si).magnitude
                assert factor * unit_factor(advised, dimension) == pytest.approx(si, rel=1e-14)
