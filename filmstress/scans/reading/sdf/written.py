"""Many numbers written one after another, a piece of text at a time; strictly decimal."""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from contextlib import suppress

from filmstress.scans.reading.numerals import shown

# Python's float takes 1_0, words and blanks as well; with these signs alone it takes numbers only.
_SIGNS = b"0123456789+-.eE \t\r\n\x0b\x0c"
_NUMBER = re.compile(rb"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")


class NoNumberError(ValueError):
    """The first of the words that is no number; which one of all, from 1."""

    def __init__(self, word: bytes, number: int) -> None:
        super().__init__(shown(word.decode("latin-1")))
        self.number = number


def add_numbers(numbers: array[float], text: bytes, missing: Sequence[bytes]) -> None:
    """Append the numbers in a text, parted by blanks or line ends.

    Parameters
    ----------
    numbers : array of "d"
        To append to.
    text : bytes
        Whole words.
    missing : sequence of bytes
        Words that stand for a number that is not there, which becomes NaN.

    Raises
    ------
    NoNumberError
        A word that is neither; the array is then of no use.
    """
    before = len(numbers)
    bare = named = text
    for word in missing:
        bare = bare.replace(word, b"")
        named = named.replace(word, b"+nan")  # a sign before it makes it no number
    if not bare.translate(None, _SIGNS):
        with suppress(ValueError):
            numbers.extend(map(float, named.split()))
            return
    for index, word in enumerate(text.split()):
        if word not in missing and not _NUMBER.fullmatch(word):
            raise NoNumberError(word, before + index + 1)
    raise AssertionError(text[:80])  # where all words are numbers they were taken
