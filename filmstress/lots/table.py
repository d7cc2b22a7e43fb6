"""The wafer table: a CSV with one row a scan, in place of the lot file's [[wafer]] entries."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from filmstress.errors import FilmstressError, LotError
from filmstress.inputs.keys import Key, arguments
from filmstress.inputs.settings import nearest

MAX_BYTES = 64 * 2**20

_HEAD = re.compile(r"^(?P<name>[^\[\]]+?)\s*(?:\[(?P<unit>[^\[\]]*)\])?$")


def read_wafer_table(path: Path, faults: list[FilmstressError]) -> list[Mapping[str, Any]]:
    """Read a wafer table into entries of the form that [[wafer]] has.

    Heads are the names of the settings (``film_thickness``, ``azimuth``, ``post_origin``), with
    the unit of bare numbers in brackets; ``<name>_u`` holds standard uncertainties.  ``wafer``,
    ``pre`` and ``post`` name the wafer and its files.  Rows of one wafer are its lines; a value
    that differs between them must be one that may differ between scans.

    Parameters
    ----------
    path : Path
    faults : list
        Receives every fault, with line and column.
    """
    text = _text_of(path, faults)
    if text is None:
        return []
    delimiter = (
        ";" if text.split("\n", 1)[0].count(";") > text.split("\n", 1)[0].count(",") else ","
    )
    rows = list(csv.reader(io.StringIO(text), delimiter=delimiter, skipinitialspace=True))
    heads = _heads(rows[0] if rows else [], path, faults)
    if heads is None:
        return []
    wafers: dict[str, dict[str, Any]] = {}
    for number, cells in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) > len(heads) and any(cell.strip() for cell in cells[len(heads) :]):
            faults.append(
                LotError(
                    f"{len(cells)} cells under {len(heads)} heads",
                    where=f"{path}, line {number}",
                    hint="quote texts that hold the delimiter",
                )
            )
            continue
        row = {
            head.name: cell.strip()
            for head, cell in zip(heads, cells, strict=False)
            if cell.strip()
        }
        _take(row, heads, wafers, f"{path}, line {number}", faults)
    return list(wafers.values())


class _Head:
    """One column: its name, the unit of its bare numbers, the setting it states."""

    def __init__(self, name: str, unit: str, key: Key | None) -> None:
        self.name = name
        self.unit = unit
        self.key = key


def _text_of(path: Path, faults: list[FilmstressError]) -> str | None:
    try:
        if path.stat().st_size > MAX_BYTES:
            raise LotError("is too large for a wafer table", where=str(path))
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        faults.append(LotError(f"cannot be read: {error.strerror}", where=str(path)))
    except UnicodeDecodeError:
        faults.append(LotError("is not UTF-8", where=str(path), hint="save the table as UTF-8"))
    except LotError as error:
        faults.append(error)
    return None


def _heads(cells: list[str], path: Path, faults: list[FilmstressError]) -> list[_Head] | None:
    known = {name: key for name, key, _ in arguments()}
    names = ["wafer", "pre", "post", *known]
    heads: list[_Head] = []
    for column, cell in enumerate(cells, start=1):
        match = _HEAD.match(cell.strip())
        name, unit = (match["name"].strip(), match["unit"] or "") if match else (cell.strip(), "")
        stem = name.removesuffix("_u") if name not in known else name
        if name not in ("wafer", "pre", "post") and stem not in known:
            faults.append(
                LotError(
                    f"unknown column '{name}'",
                    where=f"{path}, line 1, column {column}",
                    hint=nearest(name, names),
                )
            )
        heads.append(_Head(name, unit.strip(), known.get(stem)))
    missing = [name for name in ("wafer", "post") if name not in [head.name for head in heads]]
    if missing:
        faults.append(
            LotError(
                f"no column '{missing[0]}'",
                where=f"{path}, line 1",
                hint="the first line names the columns: wafer, azimuth [deg], pre, post, ...",
            )
        )
        return None
    return heads


def _take(
    row: Mapping[str, str],
    heads: list[_Head],
    wafers: dict[str, dict[str, Any]],
    where: str,
    faults: list[FilmstressError],
) -> None:
    """Put one row into its wafer's entry."""
    name = row.get("wafer")
    if name is None:
        faults.append(LotError("no wafer is named", where=where, hint="fill the column 'wafer'"))
        return
    wafer = wafers.setdefault(name, {"id": name, "scans": []})
    scan: dict[str, Any] = {key: row[key] for key in ("pre", "post") if key in row}
    for head in heads:
        if head.key is None or head.name not in row or head.name.endswith("_u"):
            continue
        spread_head = next((h for h in heads if h.name == head.name + "_u"), None)
        value = _quantity(row[head.name], head.unit)
        if spread_head is not None and spread_head.name in row:
            value += f" ± {_quantity(row[spread_head.name], spread_head.unit or head.unit)}"
        if head.key.per_scan:
            prefix = head.name.removesuffix(head.key.argument)
            scan[prefix + head.key.name] = value
            continue
        table = wafer if head.key.table == "wafer" else wafer.setdefault(head.key.table, {})
        if table.setdefault(head.key.name, value) != value:
            faults.append(
                LotError(
                    f"wafer {name} has two values of {head.name}: {table[head.key.name]} and {value}",
                    where=where,
                    hint="state it alike in every row of the wafer",
                )
            )
    wafer["scans"].append(scan)


def _quantity(cell: str, unit: str) -> str:
    """A bare number takes the column's unit; a text that has its own keeps it."""
    try:
        float(cell)
    except ValueError:
        return cell
    return f"{cell} {unit}".strip()
