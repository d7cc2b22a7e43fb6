"""Delimited text: from bytes to points in metres."""

from __future__ import annotations

from dataclasses import dataclass, replace

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut, ReadingOptions
from filmstress.scans.reading import encoding as encodings
from filmstress.scans.reading.cells import spoken
from filmstress.scans.reading.columns import Columns, choose_columns, stated_columns
from filmstress.scans.reading.header import Header, read_header
from filmstress.scans.reading.layout import Layout, find_layout
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.table import read_rows
from filmstress.scans.reading.traces import Table, tables_of


@dataclass(frozen=True, slots=True)
class Head:
    """What the first rows of a delimited text file say of it.

    Attributes
    ----------
    choices : tuple of Columns
        The columns of each scan that stands beside others; mostly of one.
    layout : Layout
    header : Header
    notes : tuple of str
        How the rows are read.
    """

    choices: tuple[Columns, ...]
    layout: Layout
    header: Header
    notes: tuple[str, ...]


def read_head(source: Source, options: ReadingOptions) -> Head:
    """What the first rows of a delimited text file say of it.

    Raises
    ------
    ScanError
        If it is no table of numbers, or leaves something open that is not stated.
    """
    where = source.name
    encoding = encodings.find_encoding(source.head)
    if source.nul and not encoding.startswith("utf-16"):
        raise ScanError(
            "is binary (it has NUL bytes)", where=where, hint="export the scan as delimited text"
        )
    if options.decimal not in (None, ".", ","):
        raise ScanError(
            f"'{options.decimal}' was stated as decimal mark; want '.' or ','", where=where
        )
    layout = find_layout(
        encodings.decode_head(source.head, encoding).replace("\r\n", "\n").replace("\r", "\n"),
        whole=source.whole,
        encoding=encoding,
        decimal=options.decimal,
        columns=len(stated_columns(options.columns, where)) or None,
        where=where,
    )
    header = read_header(layout, where)
    choices = choose_columns(layout, header, options, where)
    notes = []
    if name := encodings.spoken(encoding):
        notes.append(f"encoding {name}")
    if layout.notation.decimal == ",":
        notes.append(f"decimal comma, {spoken(layout.delimiter)} between cells")
    return Head(choices, layout, header, tuple(notes))


def read_text(source: Source, options: ReadingOptions) -> list[Table]:
    """Read the scans of a delimited text file, mostly one.

    Raises
    ------
    ScanError
        As `read_head`, or if a row cannot be read.
    """
    head = read_head(source, options)
    notes = head.notes
    left_out: tuple[LeftOut, ...] = ()
    if numbers := head.header.numbers:
        left_out = (LeftOut("numbers above the table", len(numbers), numbers[0]),)
    found = []
    for columns in head.choices:
        rows = read_rows(source, head.layout, columns)
        tables = tables_of(rows, head.layout, head.header, columns, options, source.name)
        if len(head.choices) > 1:
            name = columns.height_name
            tables = [replace(one, name=f"{name} {one.name}".strip()) for one in tables]
        tables[0] = replace(tables[0], left_out=(*left_out, *tables[0].left_out))
        found += tables
    return [
        replace(one, notes=(*notes, *one.notes), number=number, among=len(found))
        for number, one in enumerate(found, start=1)
    ]
