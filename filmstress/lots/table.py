"""The wafer table: a CSV with one row a scan, in place of the lot file's [[wafer]] entries."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from filmstress.errors import LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.readers import read_text, record_named
from filmstress.inputs.scan_parts import LineInput
from filmstress.inputs.settings import Setting, Settings
from filmstress.inputs.text_file import TextFile
from filmstress.lots.cells import (
    has_decimal_commas,
    with_decimal_points,
    with_spread,
    with_unit,
)
from filmstress.lots.entries import WaferEntry, read_paths
from filmstress.lots.heads import MUST, Head, read_heads

Row = tuple[int, dict[str, str]]


def wafer_entries(file: TextFile, faults: FaultList) -> list[WaferEntry]:
    """The wafers of a wafer table.

    Heads are the names of the settings (``film_thickness``, ``azimuth``, ``post_origin``), with
    the unit of bare numbers in brackets; ``<name>_u`` holds standard uncertainties.  ``wafer``,
    ``pre`` and ``post`` name the wafer and its files; files are looked for from the lot file's
    folder.  Rows of one wafer are its lines: what is said of the wafer, its substrate or its film
    must be alike in all of them.  A blank cell states nothing.  Cells lie between commas,
    semicolons or tabs.

    Parameters
    ----------
    file : TextFile
    faults : FaultList
        Receives every fault, with its line and column.

    Raises
    ------
    LotError
        If the text cannot be read as a table at all.
    """
    path = str(file.path)
    lines = _lines(file.text, path)
    if not lines:
        raise LotError(
            "is empty",
            where=path,
            hint="the first line names the columns: wafer, azimuth [deg], pre, post, ...",
        )
    (number, first), *rest = lines
    heads = read_heads(first, f"{path}, line {number}", faults)
    if not {head.name for head in heads if head}.issuperset(MUST):
        return []
    rows = list(_rows(rest, heads, path, faults))
    if not rows:
        faults.add(
            LotError("has no rows", where=path, hint="one row a scan below the column heads")
        )
    if _delimiter(file.text) != ",":
        rows = _with_points(rows, heads)
    return _entries(rows, heads, path, faults)


def is_table(text: str) -> bool:
    """Whether a text looks like a wafer table: its first line names columns."""
    first = text.lstrip("\r\n").partition("\n")[0]
    cells = [cell.strip().strip('"') for cell in first.split(_delimiter(text))]
    return len(cells) > 1 and "=" not in first and all(cell[:1].isalpha() for cell in cells if cell)


def _delimiter(text: str) -> str:
    head = text.lstrip("\r\n").partition("\n")[0]
    return max(",;\t", key=head.count)


def _lines(text: str, where: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every line that is not blank."""
    delimiter = _delimiter(text)
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=delimiter, skipinitialspace=True, strict=True
    )
    try:
        return [
            (reader.line_num, [cell.strip() for cell in cells])
            for cells in reader
            if any(cell.strip() for cell in cells)
        ]
    except csv.Error as error:
        raise LotError(
            f"is no table: {error}",
            where=f"{where}, line {reader.line_num}",
            hint="save it as CSV; a text that holds a quotation mark or the delimiter is quoted",
        ) from None


def _rows(
    lines: list[tuple[int, list[str]]], heads: list[Head | None], path: str, faults: FaultList
) -> Iterator[Row]:
    """Line number, and cell by column name, of every row; blank cells are left out."""
    for number, cells in lines:
        extra = [cell for cell in cells[len(heads) :] if cell]
        unnamed = [cell for head, cell in zip(heads, cells, strict=False) if cell and head is None]
        if extra or unnamed:
            faults.add(
                LotError(
                    f"'{(extra + unnamed)[0]}' stands in a column without a head",
                    where=f"{path}, line {number}",
                    hint="name the column in the first line; quote texts that hold the delimiter",
                )
            )
        yield (
            number,
            {
                head.name: cell
                for head, cell in zip(heads, cells, strict=False)
                if head and head.name and cell
            },
        )


def _with_points(rows: list[Row], heads: list[Head | None]) -> list[Row]:
    numeric = {head.name for head in heads if head and head.is_numeric}
    cells = [cell for _, row in rows for name, cell in row.items() if name in numeric]
    if not has_decimal_commas(cells):
        return rows
    return [
        (
            number,
            {
                name: with_decimal_points(cell)
                if name in numeric and not record_named(cell)
                else cell
                for name, cell in row.items()
            },
        )
        for number, row in rows
    ]


def _entries(
    rows: list[Row], heads: list[Head | None], path: str, faults: FaultList
) -> list[WaferEntry]:
    settings: dict[str, Settings] = {}
    lines: dict[str, list[LineInput]] = {}
    stating = [head for head in heads if head is not None and head.key is not None]
    for number, row in rows:
        where = f"{path}, line {number}"
        if "wafer" not in row:
            faults.add(LotError("no wafer is named", where=where, hint="fill the column 'wafer'"))
            continue
        name = row["wafer"]
        faults.attempt(lambda: read_text(name, where=f"{where}, wafer", example="01"), "")  # noqa: B023
        where = f"{where} (wafer {name})"
        own = Settings()
        for head in stating:
            raw = _stated(head, row, where, faults)
            if raw is None or head.key is None:
                continue
            setting = Setting(head.key, raw, f"{where}, {head.name}", f"wafer {name}")
            if head.key.table == "scan":
                own.put(setting, head.state)
            else:
                _put_alike(settings.setdefault(name, Settings()), setting, faults)
        paths = read_paths(row, where, faults)
        lines.setdefault(name, []).append(LineInput(own, paths, where))
    return [
        WaferEntry(name, f"{path}, wafer {name}", settings.get(name, Settings()), tuple(own_lines))
        for name, own_lines in lines.items()
    ]


def _stated(head: Head, row: dict[str, str], where: str, faults: FaultList) -> str | None:
    """What a row states under one head, as a text with its unit and uncertainty."""
    cell, spread = row.get(head.name), row.get(head.spread_name)
    if head.of_spread:
        return None
    if cell is None:
        if spread is not None:
            faults.add(
                LotError(
                    f"an uncertainty '{spread}' stands without its value",
                    where=f"{where}, {head.spread_name}",
                    hint=f"fill the column '{head.name}' too",
                )
            )
        return None
    cell = with_unit(cell, head.unit) if head.is_numeric and not record_named(cell) else cell
    return cell if spread is None else with_spread(cell, with_unit(spread, head.spread_unit))


def _put_alike(settings: Settings, setting: Setting, faults: FaultList) -> None:
    before = settings.put(setting)
    if before is not None and before.raw != setting.raw:
        settings.put(before)
        faults.add(
            LotError(
                f"'{setting.raw}' here, but '{before.raw}' in an earlier row of the same wafer",
                where=setting.where,
                hint="state it alike in every row of the wafer, or in its first row only",
            )
        )
