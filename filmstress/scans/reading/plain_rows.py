"""Rows of plain decimal numbers, a block at a time: several times as fast.

Whatever is written in any other way is not read here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.reading.decimal_numbers import WORD, Cells, Floats, Places, Words, values_of

# What is worked on at once stays in the cache of a processor.
_BLOCK_BYTES = 1 << 17
_DIGITS = b"0123456789"
_MINUS, _PLUS, _ZERO = (np.uint8(ord(sign)) for sign in "-+0")
_LETTER_BIT = np.uint8(0x20)
_LETTER = np.uint8(ord("e"))
_SPLIT = b"\t", b";", b",", b" "


@dataclass(frozen=True, slots=True)
class RowForm:
    r"""How a row is written.

    Attributes
    ----------
    marks : bytes
        What is left of a row without its digits and signs: ``b".,.\n"``.
    plus : bool
        Whether there may be plus signs and exponents.
    delimiter, decimal : bytes
        Between cells (may be empty where there is one), and before decimals.
    cells : int
        How many there are.
    end : bytes
        The line end.
    """

    marks: bytes
    plus: bool
    delimiter: bytes
    decimal: bytes
    cells: int
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
    plus = b"+" in row or b"e" in row.lower()
    marks = row.translate(None, _DIGITS + (b"-+" if plus else b"-"))
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
    return RowForm(marks, plus, one, mark, cells, end)


def read_columns(
    stream: BinaryIO, form: RowForm, wanted: Sequence[int], most_rows: int
) -> list[Floats] | None:
    """The wanted columns of all rows; None where a row is not of this form.

    A row may lack a decimal mark or an exponent that the first one has, and the other way round.

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
    marks = block.translate(None, _DIGITS + (b"-+" if form.plus else b"-"))
    rows = len(marks) // len(form.marks)
    if not (alike := marks == form.marks * rows):
        block = block.replace(b"\r\n", b"\n")
    # Eight signs before the first row, so that there are eight before every place.
    padded = np.frombuffer(b"0" * (WORD - 1) + b"\n" + block, np.uint8)
    is_mark = ((padded - _ZERO) > 9) & (padded != _MINUS)
    if form.plus:
        is_mark &= padded != _PLUS
    places = np.flatnonzero(is_mark)
    words: Words = np.lib.stride_tricks.as_strided(
        padded[:WORD].view("<u8"), shape=(padded.size - WORD + 1,), strides=(1,)
    )
    columns = []
    for cells in _alike(places, form, wanted) if alike else _unlike(padded, places, form, wanted):
        values = None if cells is None else values_of(padded, words, cells, plus=form.plus)
        if values is None:
            return None
        columns.append(values)
    return columns


def _alike(places: Places, form: RowForm, wanted: Sequence[int]) -> Iterator[Cells]:
    """Cells of rows that all have the marks of the first one."""
    per_row = len(form.marks)
    before = places[:-1].reshape(-1, per_row)  # from the end of the row before
    marked = places[1:].reshape(-1, per_row)
    inner = form.marks.removesuffix(form.end)
    parts = inner.split(form.delimiter) if form.delimiter else [inner]
    ends = np.cumsum([len(part) + 1 for part in parts]) - 1
    for cell in wanted:
        first, end = int(ends[cell]) - len(parts[cell]), int(ends[cell])
        letter = end - 1 if parts[cell][-1:].lower() == b"e" else end
        point = first if parts[cell].startswith(form.decimal) else letter
        yield Cells(
            before[:, first] + 1,
            marked[:, point],
            marked[:, letter],
            marked[:, end],
            letter < end,
        )


def _unlike(
    text: NDArray[np.uint8], places: Places, form: RowForm, wanted: Sequence[int]
) -> Iterator[Cells | None]:
    """Cells of rows in which marks and exponents come and go; None where there are other signs."""
    signs = text[places]
    is_end = signs == ord("\n")
    is_cut = is_end | (signs == ord(form.delimiter)) if form.delimiter else is_end
    is_point = signs == ord(form.decimal)
    is_letter = (signs | _LETTER_BIT) == _LETTER
    cuts = places[is_cut]
    if not (is_cut | is_point | is_letter).all() or (cuts.size - 1) % form.cells:
        yield None
        return
    ends = is_end[is_cut][1:].reshape(-1, form.cells)
    cell_of = np.cumsum(is_cut) - 1  # of the cell that follows a cut, from 0
    letters, points = cuts[1:].copy(), cuts[1:].copy()
    of_letters, of_points = cell_of[is_letter], cell_of[is_point]
    letters[of_letters] = places[is_letter]
    points[:] = letters
    points[of_points] = places[is_point]
    if (
        ends[:, :-1].any()
        or not ends[:, -1].all()
        or np.any(np.diff(of_letters) == 0)
        or np.any(np.diff(of_points) == 0)
        or np.any(points > letters)
    ):
        yield None
        return
    for cell in wanted:
        each = slice(cell, None, form.cells)
        letter, end = letters[each], cuts[1:][each]
        yield Cells(cuts[:-1][each] + 1, points[each], letter, end, bool((letter < end).any()))
