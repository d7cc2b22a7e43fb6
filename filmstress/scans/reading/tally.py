"""What stands between and beside the rows of a text file, as a walk through them counts it."""

from __future__ import annotations

from array import array
from bisect import bisect_left
from dataclasses import dataclass, field

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut
from filmstress.scans.reading.numerals import shown

# What is remembered of the lines between rows: of each gap, and how many gaps.
_MOST_TEXTS, _MOST_PARTINGS = 64, 100_000

AFTER_LAST = "words after the last row"


@dataclass(slots=True)
class Parting:
    """Lines between two rows that are no rows: blank lines, remarks, words.

    Attributes
    ----------
    line : int
        Number of the first of them; 0 while there is none.
    texts : list of (int, str)
        Those that are not blank, with their numbers; of very many, the last.
    words : array of int
        Numbers of those that are no remarks either.
    first_words : str
        Text of the first of these.
    column : int or None
        Its column that is no number, where it has as many cells as a row.
    blank : int
        Number of the first blank one; 0 for none.
    point, row : int
        How many points and rows stand before it.
    next : int
        Number of the line of the row after it.
    """

    line: int = 0
    texts: list[tuple[int, str]] = field(default_factory=list)
    words: array[int] = field(default_factory=lambda: array("q"))
    first_words: str = ""
    column: int | None = None
    blank: int = 0
    point: int = 0
    row: int = 0
    next: int = 0

    def add(self, line: int, text: str) -> None:
        """Add a line that is no row."""
        self.line = self.line or line
        if text.strip():
            self.texts.append((line, text))
            del self.texts[:-_MOST_TEXTS]
        else:
            self.blank = self.blank or line


@dataclass(slots=True)
class Tally:
    """What a walk through the rows met: rows, and by reason the lines that became no point."""

    rows: int = 0
    points: int = 0
    left_out: dict[str, array[int]] = field(default_factory=dict)
    comments: array[int] = field(default_factory=lambda: array("q"))
    partings: list[Parting] = field(default_factory=list)

    def leave_out(self, reason: str, line: int) -> None:
        """Count a line that became no point."""
        self.left_out.setdefault(reason, array("q")).append(line)

    def within(self, first: int, end: float) -> tuple[LeftOut, ...]:
        """The lines left out from line ``first`` to before ``end``, by reason."""
        each = (_within(why, lines, first, end) for why, lines in self.left_out.items())
        return tuple(one for one in each if one is not None)

    def comments_within(self, first: int, end: float) -> LeftOut | None:
        """Comment lines from line ``first`` to before ``end``; None where there are none."""
        return _within("comment", self.comments, first, end)

    def part(self, gap: Parting, line: int, where: str) -> None:
        """Keep what stands between two rows, of which the second is in line ``line``.

        Raises
        ------
        ScanError
            Words before the first row, or in a file that is all remarks and words.
        """
        gap.next = line
        full = len(self.partings) >= _MOST_PARTINGS
        if gap.words and (full or not self.rows):
            raise words_between(gap, where)
        if self.rows and not full:
            gap.point, gap.row = self.points, self.rows
            self.partings.append(gap)


def _within(reason: str, lines: array[int], first: int, end: float) -> LeftOut | None:
    low, high = bisect_left(lines, first), bisect_left(lines, end)
    return LeftOut(reason, high - low, lines[low]) if high > low else None


def words_between(parting: Parting, where: str) -> ScanError:
    """The error where words stand between the rows of one scan."""
    return ScanError(
        f"{shown(parting.first_words)} stands between rows of numbers "
        f"(the next one is line {parting.next})",
        where=where,
        hint="mend the row, or mark a remark with '#'; of several scans in one file each starts "
        "its positions anew",
        line=parting.words[0],
        column=parting.column,
    )
