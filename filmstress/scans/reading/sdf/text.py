"""The heights of an SDF file that is written as text."""

from __future__ import annotations

import re
from array import array
from collections.abc import Iterator
from typing import BinaryIO

import numpy as np

from filmstress.errors import ScanError
from filmstress.scans.reading.points import Floats
from filmstress.scans.reading.sdf.header import Header
from filmstress.scans.reading.sdf.written import NoNumberError, add_numbers

_BLOCK_BYTES = 1 << 20
_BAD = b"BAD"
_LINE_ENDS = (b"\n", b"\r")
_BLANKS = (*_LINE_ENDS, b" ", b"\t", b"\x0b", b"\x0c")
_COMMENT = re.compile(rb";[^\r\n]*")


def read_text_heights(stream: BinaryIO, header: Header, where: str) -> tuple[Floats, list[str]]:
    """The stored numbers of a text file in its order, NaN for BAD; notes on them.

    Raises
    ------
    ScanError
        A word that is no number, too many or too few of them, an integer that is none.
    """
    numbers: array[float] = array("d")
    notes = []
    stream.seek(header.start)
    ended = False
    for block in _blocks(stream, where, by_lines=header.rules.informal):
        text = _COMMENT.sub(b"", block) if header.rules.informal else block
        text, ended = _before_star(text)
        try:
            add_numbers(numbers, text, (_BAD,))
        except NoNumberError as error:
            raise ScanError(
                f"height number {error.number} is {error}; want a number with a decimal point, "
                "or BAD",
                where=where,
                hint="export the scan again",
            ) from None
        if len(numbers) > header.count or ended:
            break
    if len(numbers) != header.count:
        more = " or more" if len(numbers) > header.count and not ended else ""
        raise ScanError(
            f"has {len(numbers)}{more} heights; its header says {header.columns} x {header.rows}",
            where=where,
            hint="copy or export the scan again",
        )
    if not ended:
        notes.append("no line with a star (*) after the heights: the last one may be cut short")
    heights = np.frombuffer(numbers, np.float64)
    _check_type(heights, header, where)
    return heights, notes


def _blocks(stream: BinaryIO, where: str, *, by_lines: bool) -> Iterator[bytes]:
    """Pieces of the text that end with a whole word, or a whole line."""
    rest = b""
    while block := stream.read(_BLOCK_BYTES):
        block = rest + block
        whole = 1 + max(map(block.rfind, _LINE_ENDS if by_lines else _BLANKS))
        if not whole:
            raise ScanError(
                f"holds a {'line' if by_lines else 'word'} of more than {len(block)} bytes",
                where=where,
                hint="this is no scan",
            )
        rest = block[whole:]
        yield block[:whole]
    if rest:
        yield rest


def _before_star(text: bytes) -> tuple[bytes, bool]:
    """Text before the line that holds only a star, and whether there is one."""
    found = re.search(rb"(?:^|[\r\n])[ \t]*\*[ \t]*(?=[\r\n]|$)", text)
    return (text[: found.start()], True) if found else (text, False)


def _check_type(heights: Floats, header: Header, where: str) -> None:
    """Heights that are said to be integers must be some, and fit."""
    if header.dtype.kind == "f":
        return
    bounds = np.iinfo(header.dtype)
    stated = ~np.isnan(heights)
    wrong = (heights != np.rint(heights)) | (heights < bounds.min) | (heights > bounds.max)
    wrong &= stated
    if wrong.any():
        index = int(np.argmax(wrong))
        raise ScanError(
            f"height number {index + 1} is {heights[index]:.10g}; DataType wants whole numbers "
            f"from {bounds.min} to {bounds.max}",
            where=where,
            hint="export the scan again",
        )
