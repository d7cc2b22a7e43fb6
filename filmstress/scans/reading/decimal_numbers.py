"""Decimal numbers in a block of bytes, all at once: what ``float`` makes of each, to the last bit.

A number is a whole number m times a power of ten.  Where m has up to 15 digits and the power is at
most the 22nd, both are exact as floats, and their product or quotient is rounded once (Clinger,
PLDI 1990, doi:10.1145/93542.93557, section 4).  Up to 19 digits m is exact as the sum of two
floats, and so nearly is the power; their product is then known to some 100 bits (Dekker,
Numer. Math. 18, 224, 1971, doi:10.1007/BF01397083), and is taken where its error cannot change how
it is rounded.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Places = NDArray[np.int64]
Words = NDArray[np.uint64]
_Flags = NDArray[np.bool_]

WORD = 8
_MOST_WHOLE, _MOST_DECIMALS, _MOST_DIGITS = 8, 24, 19
_EXACT_BELOW, _EXACT_POWER = np.uint64(10**15), 22
_MOST_POWER = 60
_MINUS, _PLUS = np.uint8(ord("-")), np.uint8(ord("+"))

# Not 10.0 ** k, which is not rounded correctly everywhere.
_TENS = np.array([float(10**power) for power in range(_EXACT_POWER + 1)])
_WHOLE_TENS = 10 ** np.arange(_MOST_DIGITS + 1, dtype=np.uint64)


def _two_floats(power: int) -> tuple[float, float]:
    """A power of ten as a float, and what is left of it as another.  Whole numbers are exact."""
    above, below = 10 ** max(power, 0), 10 ** max(-power, 0)
    high, scale = (above / below).as_integer_ratio()
    return above / below, (above * scale - high * below) / (below * scale)


_POWERS_HIGH, _POWERS_LOW = np.array(
    [_two_floats(power) for power in range(-_MOST_POWER, _MOST_POWER + 1)]
).T
# Parts a float into two halves of 26 bits.
_SPLITTER = 2.0**27 + 1.0
# 64 times the bound on what the product leaves out, relative.
_DOUBT = 2.0**-97
# Of the 8 bytes before a place, the low halves of the last n.
_LAST = np.array(
    [(2**64 - 2 ** (8 * (WORD - n))) & 0x0F0F0F0F0F0F0F0F for n in range(WORD + 1)],
    dtype=np.uint64,
)


@dataclass(frozen=True, slots=True)
class Cells:
    """Where the numbers of one column stand in a block.

    Attributes
    ----------
    start, point, letter, end : ndarray of int64, shape (rows,)
        Places of the first sign, of the decimal mark, of the letter of the exponent, and of the one
        after the last.  Where there is no mark its place is that of the letter; where there is no
        letter, that of the end.
    exponents : bool
        Whether any has an exponent.
    """

    start: Places
    point: Places
    letter: Places
    end: Places
    exponents: bool


def values_of(text: NDArray[np.uint8], words: Words, cells: Cells, *, plus: bool) -> Floats | None:
    """Values of the numbers of a column.

    Parameters
    ----------
    text : ndarray of uint8
        Nothing but digits, signs and marks; at least 8 bytes before the first number.
    words : ndarray of uint64
        The eight bytes that begin at each place, the first the lowest.
    cells : Cells
    plus : bool
        Whether there are plus signs.

    Returns
    -------
    ndarray of float64 or None
        None where one is no number, or its value is in doubt.
    """
    negative, signed = _signs(text, cells.start, plus)
    whole_digits = cells.point - cells.start - signed
    each = np.maximum(cells.letter - cells.point - 1, 0)
    most = int(each.max())
    # In most files one power of ten is that of all.
    decimals = most if each.min() == most else each
    digits = whole_digits + decimals
    if (
        whole_digits.min() < 0
        or whole_digits.max() > _MOST_WHOLE
        or digits.min() < 1
        or most > _MOST_DECIMALS
    ):
        return None
    number, good = _whole(words, cells.point, whole_digits)
    if most:
        if digits.max() > _MOST_DIGITS:
            # Zeros before the first decimal that counts need no room.
            good &= not number[digits > _MOST_DIGITS].any()
        number *= _WHOLE_TENS[np.minimum(decimals, _MOST_DIGITS)]
        for group in range(-(-most // WORD)):
            part, also = _whole(
                words,
                cells.letter if not group else np.maximum(cells.letter - WORD * group, WORD),
                np.minimum(np.maximum(decimals - WORD * group, 0), WORD),
            )
            good &= also and (group < 2 or int(part.max()) < 1000)
            number += part * _WHOLE_TENS[WORD * group]
    if not good:
        return None
    power = -np.asarray(decimals)
    if cells.exponents:
        exponent = _exponents(text, words, cells, plus=plus)
        if exponent is None:
            return None
        power = power + exponent
    if np.abs(power).max() > _MOST_POWER:
        return None
    values = _scaled(number, power)
    if values is not None:
        np.negative(values, out=values, where=negative)
    return values


def _signs(text: NDArray[np.uint8], start: Places, plus: bool) -> tuple[_Flags, _Flags]:
    """Which of the numbers that start there are negative, and which have a sign at all."""
    first = text[start]
    negative = first == _MINUS
    return negative, negative | (first == _PLUS) if plus else negative


def _exponents(text: NDArray[np.uint8], words: Words, cells: Cells, *, plus: bool) -> Places | None:
    """Exponents, 0 where there is none; None where one is no number."""
    some = cells.letter < cells.end
    # Without a letter there is nothing between start and end.
    start = np.minimum(cells.letter + 1, cells.end)
    negative, signed = _signs(text, start, plus)
    negative, signed = negative & some, signed & some
    digits = cells.end - start - signed
    if digits[some].min() < 1 or digits.max() > _MOST_WHOLE:
        return None
    size, good = _whole(words, cells.end, digits)
    power: Places = size.astype(np.int64)
    np.negative(power, out=power, where=negative)
    return power if good else None


def _whole(words: Words, end: Places, digits: Places | int) -> tuple[Words, bool]:
    """Whole numbers of up to 8 digits that end before ``end``, and whether all are digits.

    The eight bytes are added up in pairs, pairs of pairs, and halves, within one machine word.
    """
    v = words[end - WORD]
    v &= _LAST[digits]
    # A digit's low half is at most 9; those of the only other signs, plus and minus, 11 and 13.
    good = not ((v + np.uint64(0x0606060606060606)) & np.uint64(0x1010101010101010)).any()
    v *= np.uint64(10 << 8 | 1)
    v >>= np.uint64(8)
    v &= np.uint64(0x00FF00FF00FF00FF)
    v *= np.uint64(100 << 16 | 1)
    v >>= np.uint64(16)
    v &= np.uint64(0x0000FFFF0000FFFF)
    v *= np.uint64(10_000 << 32 | 1)
    v >>= np.uint64(32)
    return v, good


def _scaled(number: Words, power: NDArray[np.int64]) -> Floats | None:
    """Whole numbers times powers of ten, rounded once; None where that is in doubt."""
    low, high = int(power.min()), int(power.max())
    if low >= -_EXACT_POWER and high <= _EXACT_POWER and number.max() < _EXACT_BELOW:
        values: Floats = number / _TENS[np.maximum(-power, 0)]
        if high > 0:
            values *= _TENS[np.maximum(power, 0)]  # one of the two factors is 1
        return values
    head = number.astype(np.float64)
    # What rounding took away is less than 2^11.
    tail = (number - head.astype(np.uint64)).astype(np.int64).astype(np.float64)
    ten, ten_tail = _POWERS_HIGH[power + _MOST_POWER], _POWERS_LOW[power + _MOST_POWER]
    product = head * ten
    rest = _product_error(head, ten, product) + (head * ten_tail + tail * ten)
    values = product + rest
    rest -= values - product
    doubt = values * _DOUBT
    sure = (values + (rest + doubt) == values) & (values + (rest - doubt) == values)
    return values if bool(sure.all()) else None


def _product_error(a: Floats, b: Floats, product: Floats) -> Floats:
    """What rounding took from a product, exactly (Dekker 1971, section 5)."""
    a_high = a * _SPLITTER
    a_high -= a_high - a
    a_low = a - a_high
    b_high = b * _SPLITTER
    b_high = b_high - (b_high - b)
    b_low = b - b_high
    return ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low
