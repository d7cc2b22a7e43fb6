"""Unit words: which are known, of what dimension, how large; and refusals that name the mistake."""

from __future__ import annotations

import difflib
import math
from fractions import Fraction

from filmstress.errors import QuantityError
from filmstress.units.conversion import from_si, rounded, to_si
from filmstress.units.dimensions import DIMENSIONS, Dimension, DimensionRow
from filmstress.units.lookalikes import LOOKALIKES, Repair
from filmstress.units.registry import long_name, scale
from filmstress.units.say import plain
from filmstress.units.spelling import canonical, tidy


def dimension_of(word: str) -> Dimension | None:
    """Dimension of a unit word; None where it is not one.

    "Pa" is called a stress, though a gas pressure may be written in it too, and "%" a ratio.
    """
    spelt = canonical(word)
    if not spelt:
        return None
    return next((name for name, row in DIMENSIONS.items() if spelt in row.words), None)


def is_unit_word(word: str, dimension: Dimension | None = None) -> bool:
    """Whether ``word`` is a known unit word (of ``dimension``, where given)."""
    if dimension is None:
        return dimension_of(word) is not None
    spelt = canonical(word)
    return bool(spelt) and spelt in DIMENSIONS[dimension].words


def unit_factor(word: str, dimension: Dimension, *, where: str = "") -> float:
    """SI value of one ``word``, for columns of numbers: 1e-6 for "um".

    Parameters
    ----------
    word : str
        Unit word as written in a file's header or stated by the user.
    dimension : str
        What the column holds.
    where : str
        Place, for the message.

    Raises
    ------
    QuantityError
        If the word is not known, is of another dimension, or counts from an offset (degC).
    """
    spelt = resolve(word, dimension, where=where)
    unit = scale(spelt)
    if unit.offset:
        raise QuantityError(
            f"'{word}' counts from {plain(float(unit.offset), 6)} {DIMENSIONS[dimension].si} and "
            f"has no factor; want {DIMENSIONS[dimension].phrase} on an absolute scale.",
            where=where,
            hint=f"write '{DIMENSIONS[dimension].si}'",
        )
    return rounded(unit.factor)


def convert(value: float, from_word: str, to_word: str) -> float:
    """``value`` in ``from_word``, expressed in ``to_word``; degC and K mind their offset.

    NaN and infinity stay what they are.

    Raises
    ------
    QuantityError
        If a word is not known, or the two are of different dimensions.
    """
    pair = canonical(from_word), canonical(to_word)
    if not any(pair[0] in row.words and pair[1] in row.words for row in DIMENSIONS.values()):
        dimension = dimension_of(from_word)
        if dimension is None:
            raise QuantityError(f"'{from_word}' is not a unit word known here.")
        resolve(to_word, dimension)
    if not math.isfinite(value):
        return value
    return rounded(from_si(to_si(Fraction(value), pair[0]), pair[1]))


def resolve(
    word: str, dimension: Dimension, *, number: str = "", where: str = "", example: str = ""
) -> str:
    """Canonical spelling of a word that ``dimension`` admits.

    ``number`` (as written) and ``example`` make the message fit what was typed.

    Raises
    ------
    QuantityError
        If the word is not admitted; a look-alike is called by its name.
    """
    spelt = canonical(word)
    row = DIMENSIONS[dimension]
    if spelt in row.words:
        return spelt
    word = tidy(word)[:60]
    written = f"{number} {word}".strip()
    if not spelt:
        raise QuantityError(
            f"'{number}' has no unit; want {row.phrase}." if number else "there is no unit word.",
            where=where,
            hint=_advice((), number, row, example),
        )
    look_alike = LOOKALIKES.get(spelt)
    repairs: Repair = look_alike.repairs.get(dimension, ()) if look_alike else ()
    subject = f"'{written}': '{word}'" if number else f"'{word}'"
    if other := dimension_of(spelt):
        name = long_name(spelt)
        meaning = f"'{written}' is {DIMENSIONS[other].phrase}" + (
            f" ({spelt} = {name})" if name else ""
        )
    elif look_alike:
        meaning = f"{subject} is {look_alike.what}"
    else:
        near, capitals = _nearest(spelt, row)
        repairs = tuple((1.0, match) for match in near)
        meaning = f"{subject} is not a unit word known here"
        meaning += " (capitals count)" if capitals else ""
    raise QuantityError(
        f"{meaning}; want {row.phrase}.",
        where=where,
        hint=_advice(repairs, number, row, example if dimension_of(spelt) else ""),
    )


def _nearest(spelt: str, row: DimensionRow) -> tuple[list[str], bool]:
    """Admitted words that ``spelt`` resembles, and whether only capitals differ."""
    folded = spelt.casefold()
    if same := [word for word in row.words if word.casefold() == folded]:
        return same, True
    singular = folded.removesuffix("s").replace("meter", "metre")
    if called := [word for word in row.words if singular == long_name(word)]:
        return called[:1], False
    return difflib.get_close_matches(spelt, row.words, n=1, cutoff=0.7), False


def _advice(repairs: Repair, number: str, row: DimensionRow, example: str) -> str:
    """How to write it: the repairs with the number as typed, else an example, else the words."""
    written = []
    for factor, word in repairs:
        if factor == 1:
            written.append(f"'{number} {word}'" if number else f"'{word}'")
        elif _is_float(number):
            written.append(f"'{plain(float(number) * factor, 6)} {word}'")
    if written:
        return "write " + " or ".join(written)
    if example:
        return f"write it like '{example}'"
    admitted = [word for word in row.words if word]
    return f"words for {row.phrase}: " + ", ".join(admitted)


def _is_float(number: str) -> bool:
    try:
        float(number)
    except ValueError:
        return False
    return True
