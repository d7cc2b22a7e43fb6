"""Rows of decimal numbers, all written alike, a block at a time: several times as fast.

A number of up to 15 digits is a whole number times or over a power of ten.  Up to the 22nd, both
are exact as floats, and their product or quotient is rounded once, so that it is what ``float``
makes of the text, to the last bit (Clinger, PLDI 1990, doi:10.1145/93542.93557, section 4).
Whatever is written in any other way is not read here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_Places = NDArray[np.int64]
_Words = NDArray[np.uint64]

# What is worked on at once stays in the cache of a processor.
_BLOCK_BYTES = 1 << 17
_WORD = 8
_MOST_WHOLE, _MOST_DIGITS = 8, 15
_DIGITS = b"0123456789"
_MINUS, _PLUS, _ZERO = (np.uint8(ord(sign)) for sign in "-+0")
_MOST_POWER = 22
# Not 10.0 ** k, which is not rounded correctly everywhere.
_TENS = np.array([float(10**power) for power in range(_MOST_POWER + 1)])
_WHOLE_TENS = 10 ** np.arange(_MOST_DIGITS + 1, dtype=np.uint64)
# Of the 8 bytes before a place, the low halves of the last n.
_LAST = np.array(
    [(2**64 - 2 ** (8 * (_WORD - n))) & 0x0F0F0F0F0F0F0F0F for n in range(_WORD + 1)],
    dtype=np.uint64,
)
_SPLIT = b"\t", b";", b",", b" "


@dataclass(frozen=True, slots=True)
class RowForm:
    r"""How a row is written.

    Attributes
    ----------
    marks : bytes
        What is left of a row without its digits and signs: ``b".,.\n"``.
    signs : bytes
        The signs there may be: minus, or both.
    cells : tuple of (int, int, int, int)
        For each cell, the numbers among ``marks`` of the one before it (-1: none), of its decimal
        mark, of the letter of its exponent, and of the one after it; where one of the middle two
        is missing, that of the next.
    end : bytes
        The line end.
    """

    marks: bytes
    signs: bytes
    cells: tuple[tuple[int, int, int, int], ...]
    end: bytes


def row_form(row: bytes, *, delimiter: str | None, decimal: str, cells: int) -> RowForm | None:
    """The form of a row of plain numbers; None where it is anything else.

    Parameters
    ----------
    row : bytes
        The row with its line end.
    delimiter : str or None
        Between cells; None for blanks, of which there must then be one.
    decimal : str
        Decimal mark.
    cells : int
        How many there must be.
    """
    # Where a number shows a plus, others may; where none does, none is looked for.
    signs = b"-+" if b"+" in row or b"e" in row.lower() else b"-"
    marks = row.translate(None, _DIGITS + signs)
    mark = decimal.encode()
    end = b"\r\n" if marks.endswith(b"\r\n") else b"\n"
    one = delimiter.encode() if delimiter else next((s for s in _SPLIT if s in marks), b"")
    if not marks.endswith(end) or one == mark:
        return None
    inner = marks.removesuffix(end)
    parts = inner.split(one) if one else [inner]
    forms = (b"", mark, b"e", b"E", mark + b"e", mark + b"E")
    if len(parts) != cells or any(part not in forms for part in parts):
        return None
    places, before = [], -1
    for part in parts:
        after = before + len(part) + 1
        letter = after - 1 if part[-1:] in (b"e", b"E") else after
        places.append((before, before + 1, letter, after))
        before = after
    return RowForm(marks, signs, tuple(places), end)


def read_columns(
    stream: BinaryIO, form: RowForm, wanted: Sequence[int], most_rows: int
) -> list[Floats] | None:
    """The wanted columns of all rows; None where a row is not of this form.

    Parameters
    ----------
    stream : binary file
        At the beginning of the first row.
    form : RowForm
    wanted : sequence of int
        Numbers of cells, from 0.
    most_rows : int
        At least as many as there are.
    """
    columns = [np.empty(most_rows) for _ in wanted]
    rows, rest = 0, b""
    while block := stream.read(_BLOCK_BYTES):
        cut = block.rfind(b"\n") + 1
        if not cut:
            rest += block
            continue
        found, rest = _block(rest + block[:cut], form, wanted), block[cut:]
        if found is None or rows + found[0].size > most_rows:
            return None
        for column, values in zip(columns, found, strict=True):
            column[rows : rows + values.size] = values
        rows += found[0].size
    if rest:  # a last row without its line end
        found = _block(rest + form.end, form, wanted)
        if found is None or rows + 1 > most_rows:
            return None
        for column, values in zip(columns, found, strict=True):
            column[rows] = values[0]
        rows += 1
    return [column[:rows] for column in columns]


def _block(block: bytes, form: RowForm, wanted: Sequence[int]) -> list[Floats] | None:
    marks = block.translate(None, _DIGITS + form.signs)
    per_row = len(form.marks)
    rows = len(marks) // per_row
    if marks != form.marks * rows:
        return None
    # Eight signs before the first row, so that there are eight before every place.
    padded = np.frombuffer(b"0" * (_WORD - 1) + b"\n" + block, np.uint8)
    is_mark = ((padded - _ZERO) > 9) & (padded != _MINUS)
    if len(form.signs) > 1:
        is_mark &= padded != _PLUS
    places = np.flatnonzero(is_mark)
    words: _Words = np.lib.stride_tricks.as_strided(
        padded[:_WORD].view("<u8"), shape=(padded.size - _WORD + 1,), strides=(1,)
    )
    before = places[:-1].reshape(rows, per_row)  # from the end of the row before
    marked = places[1:].reshape(rows, per_row)
    columns = []
    for cell in wanted:
        left, point, letter, right = form.cells[cell]
        start = before[:, left + 1] + 1
        power = None
        if letter < right:
            power = _power(padded, words, marked[:, letter] + 1, marked[:, right], form.signs)
            if power is None:
                return None
        values = _numbers(
            padded, words, start, marked[:, point], marked[:, letter], power, form.signs
        )
        if values is None:
            return None
        columns.append(values)
    return columns


def _signed(
    text: NDArray[np.uint8], start: _Places, signs: bytes
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which of the numbers that start there are negative, and which have a sign at all."""
    first = text[start]
    negative = first == _MINUS
    return negative, negative | (first == _PLUS) if len(signs) > 1 else negative


def _power(
    text: NDArray[np.uint8], words: _Words, start: _Places, end: _Places, signs: bytes
) -> _Places | None:
    """Exponents from ``start`` to ``end``; None where one is no plain number."""
    negative, signed = _signed(text, start, signs)
    digits = end - start - signed
    if digits.min() < 1 or digits.max() > _MOST_WHOLE:
        return None
    size, good = _whole(words, end, digits)
    power: _Places = size.astype(np.int64)
    np.negative(power, out=power, where=negative)
    return power if good else None


def _numbers(
    text: NDArray[np.uint8],
    words: _Words,
    start: _Places,
    point: _Places,
    end: _Places,
    power: _Places | None,
    signs: bytes,
) -> Floats | None:
    """Values of the cells from ``start`` to ``end``, times a power of ten.

    None where one is no plain number, or its power is too high.
    """
    negative, signed = _signed(text, start, signs)
    whole_digits = point - start - signed
    each = np.maximum(end - point - 1, 0)
    most = int(each.max())
    # In most files one power of ten is that of all.
    decimals = most if each.min() == most else each
    digits = whole_digits + decimals
    if (
        whole_digits.min() < 0
        or whole_digits.max() > _MOST_WHOLE
        or digits.min() < 1
        or digits.max() > _MOST_DIGITS
    ):
        return None
    number, good = _whole(words, point, whole_digits)
    if most:
        last, also = _whole(words, end, np.minimum(decimals, _WORD))
        good &= also
        if most > _WORD:
            early, also = _whole(words, end - _WORD, np.maximum(decimals - _WORD, 0))
            good &= also
            last += early * _WHOLE_TENS[_WORD]
        number = number * _WHOLE_TENS[decimals] + last
    if not good:
        return None
    if power is None:
        values: Floats = number / _TENS[decimals]
    else:
        power = power - decimals
        if np.abs(power).max() > _MOST_POWER:
            return None
        # One of the two factors is 1.
        values = number * _TENS[np.maximum(power, 0)]
        values /= _TENS[np.maximum(-power, 0)]
    np.negative(values, out=values, where=negative)
    return values


def _whole(words: _Words, end: _Places, digits: _Places | int) -> tuple[_Words, bool]:
    """Whole numbers of up to 8 digits that end before ``end``, and whether all are digits.

    The eight bytes are added up in pairs, pairs of pairs, and halves, within one machine word.
    """
    v = words[end - _WORD]
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
