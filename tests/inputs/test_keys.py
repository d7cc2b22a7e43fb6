"""Every key of the one table: its example can be read, and whatever else comes is refused in words
that say where, what came and how to write it."""

from __future__ import annotations

import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import FilmstressError, RefusedInput
from filmstress.inputs.keys import Key, all_keys, arguments, keys_of
from filmstress.inputs.readers import (
    Choice,
    Quantity,
    QuantityOrWord,
    QuantityRange,
    Text,
    UnitWord,
    read_value,
    shown,
)
from filmstress.records.quantity import Measured

KEYS = all_keys()
QUANTITIES = [key for key in KEYS if isinstance(key.reader, Quantity | QuantityOrWord)]


def name(key: object) -> str:
    return key.full_name if isinstance(key, Key) else ""


def example(key: Key) -> str:
    match key.reader:
        case Quantity(kind) | QuantityOrWord(kind) | QuantityRange(kind):
            return kind.example
        case Choice(words):
            return words[0]
        case UnitWord(_, text) | Text(text):
            return text


def refusal(raw: object, key: Key) -> RefusedInput:
    with pytest.raises(RefusedInput) as caught:
        read_value(raw, key.reader, where="here")
    return caught.value


@pytest.mark.parametrize("key", KEYS, ids=name)
def test_the_example_of_every_key_can_be_read(key: Key) -> None:
    value = read_value(example(key), key.reader, where="here")
    if isinstance(key.reader, Quantity):
        assert isinstance(value, Measured)
        assert key.reader.kind.low <= value.value <= key.reader.kind.high
    else:
        assert value is not None


@pytest.mark.parametrize("key", KEYS, ids=name)
@pytest.mark.parametrize("raw", [[], ["1 um"], {}, {"a": 1}, None, b"1 um", 1 + 2j], ids=repr)
def test_what_no_key_is_made_of_is_refused_with_place_and_remedy(key: Key, raw: object) -> None:
    error = refusal(raw, key)
    assert error.where == "here"
    assert shown(raw) in error.message
    assert error.hint.startswith("write ")


@pytest.mark.parametrize("key", KEYS, ids=name)
@pytest.mark.parametrize("raw", ["", "  ", "rubbish !", "nan um", "7 parsec"])
def test_texts_that_say_nothing_to_a_key_are_refused(key: Key, raw: str) -> None:
    if isinstance(key.reader, Text) and raw.strip():
        assert read_value(raw, key.reader, where="here") == raw
        return
    error = refusal(raw, key)
    assert error.where == "here"
    assert error.hint


@pytest.mark.parametrize("key", QUANTITIES, ids=name)
def test_a_quantity_without_its_unit_is_refused_except_where_it_has_none(key: Key) -> None:
    assert isinstance(key.reader, Quantity | QuantityOrWord)
    if key.reader.kind.dimension in ("number", "relative"):
        assert read_value(0.01, key.reader, where="here") == Measured(
            0.01, "1", read_as="uncertainty not stated"
        )
        return
    for bare in (3, 3.5, "3"):
        error = refusal(bare, key)
        assert "has no unit" in error.message
        assert error.hint


@pytest.mark.parametrize("key", QUANTITIES, ids=name)
def test_true_and_false_are_no_quantities(key: Key) -> None:
    assert "true came, a quantity is wanted" in refusal(True, key).message


@pytest.mark.parametrize(
    ("argument", "text"),
    [
        ("substrate_thickness", "525 mm"),
        ("film_thickness", "500 m"),
        ("diameter", "150 um"),
        ("film_modulus", "260 MPa"),
        ("substrate_poisson_ratio", "0.6"),
        ("azimuth", "900 deg"),
        ("support_radius", "50 m"),
        ("window", "-300 mm..300 mm"),
        ("offset", "30 mm"),
        ("bow_repeatability", "15 mm"),
        ("height_scale_uncertainty", "80 %"),
        ("interval", "5 m"),
        ("bare_bow", "1 m"),
        ("film_uncoated_ring", "-3 mm"),
    ],
)
def test_implausible_sizes_are_refused(argument: str, text: str) -> None:
    key = {name: key for name, key, _ in arguments()}[argument]
    error = refusal(text, key)
    assert "outside the plausible range" in error.message
    assert error.hint


@pytest.mark.parametrize(
    ("argument", "text", "words"),
    [
        ("film_thickness", "1000 A", "ampere"),
        ("film_modulus", "260 mPa", "mPa"),
        ("substrate_thickness", "525 um ± 1 ± 1", "more than one ±"),
        ("azimuth", "90", "no unit"),
        ("film_thickness", "5 GPa", "a stress"),
    ],
)
def test_look_alikes_and_wrong_dimensions_are_called_by_name(
    argument: str, text: str, words: str
) -> None:
    key = {name: key for name, key, _ in arguments()}[argument]
    assert words in refusal(text, key).message


@pytest.mark.parametrize("key", [key for key in KEYS if isinstance(key.reader, Choice)], ids=name)
def test_a_word_that_is_none_of_the_choices_is_told_all_of_them(key: Key) -> None:
    assert isinstance(key.reader, Choice)
    for word in key.reader.words:
        assert read_value(f" {word} ", key.reader, where="") == word
    error = refusal("sideways", key)
    assert error.message == "'sideways' came, one of a few words is wanted"
    assert error.hint == "write one of: " + ", ".join(key.reader.words)


def test_yes_and_no_may_be_true_and_false() -> None:
    reader = keys_of("scan")["height_up"].reader
    assert read_value(True, reader, where="") == "yes"
    assert read_value(False, reader, where="") == "no"
    with pytest.raises(RefusedInput):
        read_value(True, keys_of("film")["face"].reader, where="")


def test_a_window_is_two_ends() -> None:
    reader = keys_of("scan")["window"].reader
    assert read_value("-30..30 mm", reader, where="") == (-0.03, 0.03)
    assert read_value("-3 cm..20 mm", reader, where="") == (-0.03, 0.02)
    with pytest.raises(RefusedInput, match="does not run from low to high"):
        read_value("30 mm..-30 mm", reader, where="")


def test_auto_stands_for_an_offset_to_be_found() -> None:
    reader = keys_of("scan")["offset"].reader
    assert read_value(" Auto ", reader, where="") is None
    assert isinstance(read_value("0.3 mm", reader, where=""), Measured)


def test_units_of_files_are_words_for_a_length() -> None:
    reader = keys_of("scan")["height_unit"].reader
    assert read_value("Å", reader, where="") == "Å"
    with pytest.raises(RefusedInput, match="ampere"):
        read_value("A", reader, where="")


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (datetime.date(2026, 3, 14), "2026-03-14"),
        (datetime.datetime(2026, 3, 14, 7, 30), "2026-03-14T07:30:00"),
        (datetime.time(7, 30), "07:30:00"),
        ("14 March", "14 March"),
    ],
)
def test_a_date_may_be_a_toml_date(raw: object, text: str) -> None:
    assert read_value(raw, keys_of("scan")["date"].reader, where="") == text


def test_characters_that_would_break_a_terminal_are_refused() -> None:
    error = refusal("a\x1b[2Jb", keys_of("scan")["operator"])
    assert str(error).isprintable() or "\n" in str(error)
    assert "\x1b" not in str(error)


def test_a_message_shows_the_beginning_of_what_is_too_long() -> None:
    error = refusal("x" * 10_000, keys_of("film")["face"])
    assert len(str(error)) < 200


def test_names_are_unique_and_prefixes_belong_to_scans_only() -> None:
    names = [name for name, _, _ in arguments()]
    assert len(names) == len(set(names))
    for name, key, state in arguments():
        assert name == (f"{state}_{key.argument}" if state else key.argument)
        assert not state or key.table == "scan"
    # A column "<name>_u" holds uncertainties, so no key may end like that.
    assert not [name for name in names if name.endswith("_u")]


def test_contract_of_names() -> None:
    """Keys of the lot file as it is documented; options have their names."""
    documented = {
        "substrate": "material azimuth_reference diameter thickness miscut youngs_modulus "
        "poisson_ratio density modulus",
        "film": "material thickness modulus youngs_modulus poisson_ratio face uncoated_ring faces "
        "thickness_profile",
        "scan": "azimuth support support_radius support_azimuth position_scale_uncertainty "
        "height_scale_uncertainty bow_repeatability offset_repeatability line_repeatability "
        "origin datum window offset bare_bow instrument operator date temperature height_up "
        "reference",
        "wafer": "role",
    }
    for table, names in documented.items():
        assert set(names.split()) <= set(keys_of(table))
    options = (
        "substrate substrate_thickness diameter azimuth azimuth_reference film_thickness "
        "film_modulus film_face support support_radius bow_repeatability window offset bare_bow "
        "post_origin post_azimuth pre_support post_support_radius position_unit height_unit "
        "decimal columns"
    )
    assert set(options.split()) <= {name for name, _, _ in arguments()}


anything = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(), st.dates(), st.times(),
        st.binary(),
    ),
    lambda inner: st.one_of(st.lists(inner), st.dictionaries(st.text(), inner)),
    max_leaves=4,
)  # fmt: skip


@given(key=st.sampled_from(KEYS), raw=anything)
def test_nothing_but_a_refusal_comes_of_anything(key: Key, raw: Any) -> None:
    said = "read"
    try:
        read_value(raw, key.reader, where="here")
    except FilmstressError as error:
        said = str(error)
    assert said
    assert "\x1b" not in said
