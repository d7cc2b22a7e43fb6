"""How a number may be written in a cell, under either decimal mark, and how a missing one is.

``1,234`` is 1.234 or 1234, depending on the decimal mark.  Nothing here chooses: a cell is *told*
which mark is in force, and a group of three digits that could as well be decimals is read only
where groups are known to be in use.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from filmstress.units.spelling import tidy

_LONGEST_NUMBER, _LONGEST_COUNT = 80, 9
POINT, COMMA = ".", ","
OTHER = {POINT: COMMA, COMMA: POINT}

_SIGN = "[+\\-\u2212]?"
_EXPONENT = "(?:[eEdD][+\\-\u2212]?[0-9]{1,4})?"
# A group mark beside the other decimal mark: apostrophes, no-break and thin blanks.
_NEUTRAL_GROUPS = "'\u2019\u00a0\u2009\u202f"


def _plain(mark: str) -> re.Pattern[str]:
    decimal = re.escape(mark)
    return re.compile(f"{_SIGN}(?:[0-9]+(?:{decimal}[0-9]*)?|{decimal}[0-9]+){_EXPONENT}")


def _grouped(mark: str) -> re.Pattern[str]:
    group = f"([{re.escape(OTHER[mark])}{_NEUTRAL_GROUPS}])[0-9]{{3}}(?:\\1[0-9]{{3}})*"
    return re.compile(f"{_SIGN}[1-9][0-9]{{0,2}}{group}(?:{re.escape(mark)}[0-9]*)?{_EXPONENT}")


_PLAIN = {mark: _plain(mark) for mark in OTHER}
_GROUPED = {mark: _grouped(mark) for mark in OTHER}
_TO_FLOAT = {
    mark: str.maketrans(
        {OTHER[mark]: "", mark: ".", "\u2212": "-", "d": "e", "D": "e"}
        | dict.fromkeys(_NEUTRAL_GROUPS, "")
    )
    for mark in OTHER
}
_MISSING = re.compile(
    r"|[+-]?nan(?:\(\w*\))?|[+-]?inf(?:inity)?|n/?a|#n/?a!?|null|none|bad|-{1,5}|\*{1,5}"
    r"|[+-]?1\.#(?:ind|inf|qnan|snan)0*",
    re.IGNORECASE,
)


class AmbiguousGroupError(ValueError):
    """A cell such as 1,234 that could be meant as either of two numbers."""


@dataclass(frozen=True, slots=True)
class Notation:
    """How the numbers of one file are written.

    Attributes
    ----------
    decimal : str
        Decimal mark.
    groups : bool
        Whether thousands are known to be set off by the other mark.
    """

    decimal: str
    groups: bool = False

    def number(self, cell: str) -> float:
        """Value of a cell without blanks around it; infinite where it is beyond a float.

        Raises
        ------
        AmbiguousGroupError
            If it could be two different numbers.
        ValueError
            If it is no number.
        """
        mark = self.decimal
        if _PLAIN[mark].fullmatch(cell):
            try:
                return float(cell if mark == POINT else cell.replace(COMMA, POINT))
            except ValueError:  # an exponent D, a typographic minus
                return float(cell.translate(_TO_FLOAT[mark]))
        if not _GROUPED[mark].fullmatch(cell):
            raise ValueError(cell)
        if not self.groups and _PLAIN[OTHER[mark]].fullmatch(cell):
            raise AmbiguousGroupError(cell)
        return float(cell.translate(_TO_FLOAT[mark]))


def is_missing(cell: str) -> bool:
    """Whether a cell is blank or a word for a value that is not there."""
    return _MISSING.fullmatch(cell) is not None


@lru_cache(maxsize=1024)
def marks(cell: str) -> str:
    """Decimal marks under which a cell is a number: "", ".", "," or ".,"; kept, for few are asked.

    A whole number without groups fits both.
    """
    if len(cell) > _LONGEST_NUMBER:
        return ""
    return "".join(
        mark for mark in OTHER if _PLAIN[mark].fullmatch(cell) or _GROUPED[mark].fullmatch(cell)
    )


def shows_groups(cell: str, mark: str) -> bool:
    """Whether a cell can only be read with thousands set off by the other decimal mark."""
    return (
        OTHER[mark] in cell and marks(cell) == mark and _GROUPED[mark].fullmatch(cell) is not None
    )


def shown(text: str) -> str:
    """Text from a file as a message shows it: on one line, printable, not too long."""
    clean = tidy(text.replace("\0", "\ufffd"))
    return f"'{clean[:60]}…'" if len(clean) > 60 else f"'{clean}'"


def counted(count: int, noun: str) -> str:
    """Write a number of things: "1 point", "2 points"."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def index_of(text: str, count: int) -> int | None:
    """Index of the one of ``count`` things that a number from 1 names; None where it names none."""
    if not (text.isascii() and text.isdigit() and len(text) <= _LONGEST_COUNT):
        return None
    return int(text) - 1 if 1 <= int(text) <= count else None
