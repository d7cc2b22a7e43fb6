"""Delimited text: from bytes to points in metres."""

from __future__ import annotations

from dataclasses import replace

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut, ReadingOptions
from filmstress.scans.reading import encoding as encodings
from filmstress.scans.reading.cells import spoken
from filmstress.scans.reading.columns import Columns, choose_columns, stated_columns
from filmstress.scans.reading.header import Header, read_header
from filmstress.scans.reading.layout import Layout, find_layout
from filmstress.scans.reading.source import Source
from filmstress.scans.reading.table import Table, read_table


def read_head(source: Source, options: ReadingOptions) -> tuple[Columns, Layout, Header, list[str]]:
    """What the first rows of a delimited text file say of it; notes on how they were read.

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
    columns = choose_columns(layout, header, options, where)
    notes = []
    if name := encodings.spoken(encoding):
        notes.append(f"encoding {name}")
    if layout.notation.decimal == ",":
        notes.append(f"decimal comma, {spoken(layout.delimiter)} between cells")
    return columns, layout, header, notes


def read_text(source: Source, options: ReadingOptions) -> tuple[Columns, Table]:
    """Read a delimited text file.

    Raises
    ------
    ScanError
        As `read_head`, or if a row cannot be read.
    """
    columns, layout, header, notes = read_head(source, options)
    table = read_table(source, layout, columns)
    left_out = table.left_out
    if header.numbers:
        why = "numbers above the table"
        left_out = (LeftOut(why, len(header.numbers), header.numbers[0]), *left_out)
    return columns, replace(table, left_out=left_out, notes=(*notes, *table.notes))
