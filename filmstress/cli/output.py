"""Where output goes: data to stdout, words to stderr."""

from __future__ import annotations

import csv
import io
import json
import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import typer

from filmstress.cli import exits


def show(text: str) -> None:
    """Write data to stdout; a reader that has gone away ends the program quietly."""
    try:
        sys.stdout.write(text if text.endswith("\n") else text + "\n")
        sys.stdout.flush()
    except BrokenPipeError:
        # What is still buffered must not raise again at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(exits.DONE) from None


def show_json(data: Mapping[str, Any]) -> None:
    """Write one JSON object to stdout."""
    show(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def show_csv(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table to stdout.

    Texts that a spreadsheet would take for a formula get a leading apostrophe.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(heads)
    for row in rows:
        writer.writerow(["" if cell is None else _harmless(cell) for cell in row])
    show(buffer.getvalue())


def _harmless(cell: object) -> object:
    if isinstance(cell, str) and cell[:1] in {"=", "+", "-", "@", "\t", "\r"}:
        return "'" + cell
    return cell


def say(text: str) -> None:
    """Write words to stderr."""
    sys.stderr.write(text + "\n")


def table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()) -> str:
    """A plain text table; columns whose index is in ``right`` are set flush right."""
    widths = [max(len(line[i]) for line in [heads, *rows]) for i in range(len(heads))]

    def line_of(cells: Sequence[str]) -> str:
        parts = [
            cell.rjust(width) if i in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ]
        return "  ".join(parts).rstrip()

    return "\n".join([line_of(heads), *(line_of(row) for row in rows)])
