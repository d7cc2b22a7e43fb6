"""What holds for every quantity, whatever its size, unit and form."""

import math
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import QuantityError
from filmstress.records.quantity import Shape
from filmstress.units.dimensions import DIMENSIONS
from filmstress.units.kinds import Kind
from filmstress.units.lookalikes import LOOKALIKES
from filmstress.units.quantity import read_quantity, read_range
from filmstress.units.registry import scale
from filmstress.units.words import convert, is_unit_word, unit_factor

# The first example pays for the import of pint.
relaxed = settings(deadline=None, max_examples=200)

ANY = {name: Kind(name, name, -math.inf, math.inf, "1 um") for name in DIMENSIONS}
dimensions = st.sampled_from(sorted(DIMENSIONS))
pairs = st.sampled_from(
    [(name, word) for name, row in sorted(DIMENSIONS.items()) for word in row.words]
)
magnitudes = st.floats(min_value=1e-30, max_value=1e30) | st.floats(
    min_value=-1e30, max_value=-1e-30
)


@relaxed
@given(pairs, magnitudes)
def test_what_is_written_is_read(pair, number):
    dimension, word = pair
    got = read_quantity(f"{number!r} {word}", ANY[dimension])
    exact = Fraction(repr(number)) * scale(word).factor + scale(word).offset
    assert got.value == float(exact)
    assert got.unit == DIMENSIONS[dimension].si
    # The offset of degC swallows the last digits of a small number.
    slack = 1e-13 if word == "degC" else 0.0
    si = DIMENSIONS[dimension].si.replace("1", "") if got.unit == "1" else got.unit
    assert convert(got.value, si, word) == pytest.approx(number, rel=1e-15, abs=slack)


@relaxed
@given(pairs.filter(lambda pair: pair[1] != "degC"), magnitudes)
def test_column_and_cell_agree(pair, number):
    dimension, word = pair
    cell = read_quantity(f"{number!r} {word}", ANY[dimension]).value
    assert cell == pytest.approx(number * unit_factor(word, dimension), rel=1e-15)


# Decimals as people type them: digits, and how many of them stand after the point.
decimals = st.tuples(st.integers(1, 10**6), st.integers(0, 6))
lengths = st.sampled_from(DIMENSIONS["length"].words)


def typed(digits: int, places: int) -> str:
    text = str(digits).rjust(places + 1, "0")
    return f"{text[:-places]}.{text[-places:]}" if places else text


@relaxed
@given(decimals, st.integers(1, 10**4), lengths)
def test_forms_agree(decimal, spread, word):
    digits, places = decimal
    value, u, twice = typed(digits, places), typed(spread, places), typed(2 * spread, places)
    kind = ANY["length"]
    plain = read_quantity(f"{value} {word} ± {u} {word}", kind)
    assert plain.value == float(Fraction(digits, 10**places) * scale(word).factor)
    assert plain.u == float(Fraction(spread, 10**places) * scale(word).factor)
    for text in (
        f"{value} {word} +/- {u} {word}",
        f"{value} ± {u} {word}",
        f"{value}{word}±{u}{word}",
        f"{value} {word} ± {twice} {word} (k=2)",
        f"{value}({spread}) {word}",
        f"{value}e0 {word} ± {u}e0 {word} (k=1)",
    ):
        again = read_quantity(text, kind)
        assert (again.value, again.u, again.shape) == (plain.value, plain.u, plain.shape), text
    limits = read_quantity(f"{value} {word} ± {u} {word} (limits)", kind)
    assert limits.u * math.sqrt(3.0) == pytest.approx(plain.u, rel=1e-14)
    assert limits.shape is Shape.RECTANGULAR
    share = read_quantity(f"{value} {word} ± 1 %", kind)
    assert share.u == pytest.approx(plain.value / 100, rel=1e-14)


@relaxed
@given(decimals, lengths, lengths)
def test_unit_of_the_spread_does_not_matter(decimal, word, other):
    digits, places = decimal
    u = typed(digits, places)
    direct = read_quantity(f"1e9 {word} ± {u} {other}", ANY["length"])
    assert direct.u == float(Fraction(digits, 10**places) * scale(other).factor)


@relaxed
@given(magnitudes, st.floats(1e-3, 1e3), st.sampled_from(["mm", "um", "inch"]))
def test_range_keeps_its_ends(low, width, word):
    high = low + width * abs(low)
    ends = read_range(f"{low!r}..{high!r} {word}", ANY["length"])
    both = read_range(f"{low!r} {word}..{high!r} {word}", ANY["length"])
    assert [end.value for end in ends] == [end.value for end in both]
    assert ends[0].value == read_quantity(f"{low!r} {word}", ANY["length"]).value
    assert ends[0].value < ends[1].value


def outcome(read, *args):
    """What ``read`` gives back, or its refusal; anything else escapes."""
    try:
        return read(*args)
    except QuantityError as error:
        return error


pieces = st.sampled_from(
    ["5", "25.0", ".5", "(20)", "±", "+/-", " ", "k=2", "dof=9", "limits", "exact", "(", ")", ",",
     "..", "e5", "1e999", "-", "\u2212", "²", "^", "/", "_", "__class__", "\x00", "\u00b5", "１",
     *sorted({word for row in DIMENSIONS.values() for word in row.words}), *LOOKALIKES]
)  # fmt: skip
near_misses = st.lists(pieces, max_size=9).map("".join)
forms = st.builds(
    "{}{}{}{}{}".format,
    st.sampled_from(["525", "525.0(20)", "0.1", "-3e2", "1 1", "1,5"]),
    st.sampled_from(["", " "]),
    pieces | st.just(" um"),
    st.sampled_from(["", " ± 2", " ± 2 um", " ± 5 %", " ± 1e-3 K"]),
    st.sampled_from(["", " (k=2)", " (limits)", " (exact)", " (k=2, dof=9)", " (dof=0)", " (k"]),
)


@settings(deadline=None, max_examples=600)
@given(st.text() | near_misses | forms, dimensions, st.booleans())
def test_nothing_but_a_quantity_or_its_refusal(text, dimension, positive):
    kind = Kind("input", dimension, 1e-12, 1e12, "5 um") if positive else ANY[dimension]
    for read in (read_quantity, lambda *args: read_range(*args)[0]):
        got = outcome(read, text, kind)
        if isinstance(got, QuantityError):
            assert got.message
            assert got.hint
        else:
            assert math.isfinite(got.value)
            assert kind.low <= got.value <= kind.high
            assert got.u is None or (math.isfinite(got.u) and got.u >= 0.0)
            assert got.dof > 0.0


@relaxed
@given(st.text() | pieces, dimensions)
def test_a_unit_word_has_a_factor_or_is_refused(word, dimension):
    factor = outcome(unit_factor, word, dimension)
    if is_unit_word(word, dimension) and word != "degC":
        assert factor > 0.0
    else:
        # Only a bare number needs no word.
        assert isinstance(factor, QuantityError) or factor == 1.0
