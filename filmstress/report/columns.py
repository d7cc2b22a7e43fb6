"""Tables for a terminal: cells set in columns."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence


def columns(
    rows: Sequence[Sequence[str]], *, right: Collection[int] = (), lead: str = "  ", gap: int = 3
) -> Iterator[str]:
    """Lines of a table.

    Parameters
    ----------
    rows : sequence of sequences of str
        The heads first, all of one length.
    right : collection of int
        Columns set to the right.
    lead : str
        Before every line.
    gap : int
        Blanks between columns.
    """
    wide = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for cells in rows:
        placed = [
            cell.rjust(width) if place in right else cell.ljust(width)
            for place, (cell, width) in enumerate(zip(cells, wide, strict=True))
        ]
        yield (lead + (" " * gap).join(placed)).rstrip()
