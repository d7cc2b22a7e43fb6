"""Which columns are position and height: what the file says, and what the user states."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading.column_units import Unit, sampling_interval, unit_of_column
from filmstress.scans.reading.header import Header
from filmstress.scans.reading.layout import Layout
from filmstress.scans.reading.names import COUNTERS, Axis, axis_of, words_of
from filmstress.scans.reading.numerals import index_of, shown
from filmstress.units.words import is_unit_word

_BY_INTERVAL = "stated interval"

# Cells of position (None: the row's number) and height.
_Pair = tuple[int | None, int]


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns to read.

    Attributes
    ----------
    position : int or None
        Cell of the position, from 0; None where the row's number times an interval gives it.
    height : int
        Cell of the height, from 0.
    position_name, height_name : str
        What they are called.
    position_unit, height_unit : Unit
        What a number in them counts; for an interval, the interval.
    notes : tuple of str
        What was taken for granted.
    """

    position: int | None
    height: int
    position_name: str
    height_name: str
    position_unit: Unit
    height_unit: Unit
    notes: tuple[str, ...]


def stated_columns(columns: str | None, where: str) -> tuple[str, ...]:
    """Entries of the ``columns`` option: none, one (heights only) or two (position, height)."""
    if columns is None:
        return ()
    entries = tuple(entry.strip() for entry in columns.split(","))
    if not all(entries) or len(entries) > 2 or len(set(entries)) < len(entries):
        raise ScanError(
            f"columns {shown(columns)} were stated; want a position and a height column",
            where=where,
            hint="write --columns 1,3 or --columns x,z (one entry for a file of heights only)",
        )
    return entries


def choose_columns(
    layout: Layout, header: Header, options: ReadingOptions, where: str
) -> tuple[Columns, ...]:
    """Settle columns and units; several where the file has heights of several scans side by side.

    Raises
    ------
    ScanError
        If the file leaves one open and nothing is stated, or the two contradict each other.
    """
    entries = stated_columns(options.columns, where)
    notes: list[str] = []
    if entries:
        found = [_find_column(entry, layout, header, where) for entry in entries]
        pairs: list[_Pair] = [(None, found[0]) if len(found) == 1 else (found[0], found[1])]
    else:
        pairs = _by_names(layout, header, where, notes)
    return tuple(_settled(*pair, layout, header, options, where, notes) for pair in pairs)


def _settled(
    position: int | None,
    height: int,
    layout: Layout,
    header: Header,
    options: ReadingOptions,
    where: str,
    taken: Sequence[str],
) -> Columns:
    notes = list(taken)
    if position is not None and position == height:
        raise ScanError(
            f"columns {shown(options.columns or '')} name one column twice",
            where=where,
            hint="write the position column first, then the height column",
        )
    if position is None:
        position_unit = sampling_interval(layout, header, options, where)
    elif options.interval is not None:
        raise ScanError(
            "an interval was stated, but the file has positions in "
            f"{_label(header, position)} of its own",
            where=where,
            hint=f"leave --interval away, or read heights only with --columns {height + 1}",
        )
    else:
        position_unit = unit_of_column(
            Axis.POSITION, position, header, options.position_unit, where, notes
        )
    return Columns(
        position=position,
        height=height,
        position_name=_BY_INTERVAL if position is None else _label(header, position),
        height_name=_label(header, height),
        position_unit=position_unit,
        height_unit=unit_of_column(Axis.HEIGHT, height, header, options.height_unit, where, notes),
        notes=tuple(notes),
    )


def _label(header: Header, cell: int) -> str:
    name = header.names[cell] if header.names else ""
    return name or f"column {cell + 1}"


def _listing(layout: Layout, header: Header) -> str:
    return ", ".join(
        f"{cell + 1} {shown(header.names[cell])}" if header.names else str(cell + 1)
        for cell in range(layout.cells)
    )


def _find_column(entry: str, layout: Layout, header: Header, where: str) -> int:
    """Cell that an entry of the ``columns`` option names."""
    if entry.isascii() and entry.isdigit():
        index = index_of(entry, layout.cells)
        found = [] if index is None else [index]
    else:
        wanted = entry.casefold()
        found = [
            cell
            for cell, (head, name) in enumerate(zip(header.heads, header.names, strict=True))
            if wanted in (head.casefold(), name.casefold())
        ]
    if len(found) != 1:
        raise ScanError(
            f"{'several columns are' if found else 'no column is'} called {shown(entry)}; "
            f"the columns are {_listing(layout, header)}",
            where=where,
            hint="name columns by number, as in --columns 1,3",
        )
    if found[0] in layout.text_cells:
        raise ScanError(
            f"column {shown(entry)} holds words, not numbers",
            where=where,
            hint=f"the columns are {_listing(layout, header)}",
            line=layout.first_row,
            column=found[0] + 1,
        )
    return found[0]


def _by_names(layout: Layout, header: Header, where: str, notes: list[str]) -> list[_Pair]:
    """Columns by their names; of two without known names, position comes first."""
    words = {
        cell: words_of(header.names[cell]) if header.names else [] for cell in layout.number_cells
    }
    cells = [cell for cell, said in words.items() if not said or not COUNTERS.issuperset(said)]
    axes = {cell: axis_of(words[cell]) for cell in cells}
    if len(cells) == 1:
        if axes[cells[0]] is Axis.POSITION:
            raise ScanError(
                f"has positions ({_label(header, cells[0])}) but no heights",
                where=where,
                hint=f"state --columns {cells[0] + 1} if these are heights",
            )
        return [(None, cells[0])]
    positions = [cell for cell in cells if axes[cell] is Axis.POSITION]
    heights = [cell for cell in cells if axes[cell] is Axis.HEIGHT]
    # In a plot y is the height, on a map it is the other position.
    either = [cell for cell in cells if words[cell] == ["y"]]
    if len(positions) == 1 and not heights and len(either) == 1:
        heights = either
    elif len(heights) == 1 and either:
        positions += either
    if len(cells) == 2 and len(positions) + len(heights) == 1:
        other = cells[1] if cells[0] in positions + heights else cells[0]
        (heights if positions else positions).append(other)
    if len(cells) == 2 and not positions and not heights:
        notes.append(f"columns {cells[0] + 1} and {cells[1] + 1} taken as position and height")
        positions, heights = [cells[0]], [cells[1]]
    if len(positions) == len(heights) == 1:
        return [(positions[0], heights[0])]
    if pairs := _side_by_side(cells, positions, heights, header):
        return pairs
    raise ScanError(
        "cannot tell which columns are position and height; "
        f"the columns are {_listing(layout, header)}",
        where=where,
        hint="name them, position first: --columns 1,3",
    )


def _side_by_side(
    cells: Sequence[int], positions: Sequence[int], heights: Sequence[int], header: Header
) -> list[_Pair]:
    """Columns of several scans: heights beside one position column, or pairs; else nothing."""
    if not heights:
        # "x [mm], scan 1 [um]": a word that only leans to the position gives way to one that is it.
        sure = [cell for cell in positions if axis_of(words_of(header.names[cell]), surely=True)]
        positions = sure if len(sure) == 1 else positions
    if len(positions) == 1 and not heights:
        # "x [mm], before [um], after [um]": what is a length beside the position is a height.
        heights = [cell for cell in cells if cell not in positions and _is_length(header, cell)]
    if len(heights) < 2:
        return []
    if len(positions) < 2:
        position = positions[0] if positions else None
        return [(position, height) for height in heights]
    pairs = list(zip(positions, heights, strict=False))
    in_turn = [cell for pair in pairs for cell in pair]
    if len(positions) != len(heights) or in_turn != sorted(in_turn):
        return []
    return [(position, height) for position, height in pairs]


def _is_length(header: Header, cell: int) -> bool:
    return any(is_unit_word(claim.word, "length") for claim in header.units[cell])
