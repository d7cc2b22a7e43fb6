"""Looking after a history: checking it, copying it while it is in use, taking it elsewhere."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from filmstress.errors import HistoryError
from filmstress.history.entry import SCHEMA, kept_lot
from filmstress.history.schema import LOTS, PARAMETERS, VERSION, WAFERS
from filmstress.history.store import History, open_history
from filmstress.history.writing import keep, keep_many
from filmstress.records.history import KeptLot

_RECORD = "filmstress/record/"
_ENTRY = "filmstress/history-entry/1"
_ROWS = 1000


@dataclass(frozen=True, slots=True)
class Health:
    """What a check found.

    Attributes
    ----------
    step : int
        Of the schema.
    lots, wafers : int
        Kept.
    faults : tuple of str
        In words; empty where all is well.
    """

    step: int
    lots: int
    wafers: int
    faults: tuple[str, ...]


def check(history: History) -> Health:
    """Read everything and compare it with what it was made from."""
    faults: list[str] = []
    with history.reading() as connection:
        if history.file is not None:
            found = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
            faults += [f"the file is damaged: {one}" for one in found if one != "ok"]
            for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
                faults.append(f"a row of {row[0]} belongs to no lot")
        lots = int(connection.execute(sa.select(sa.func.count()).select_from(LOTS)).scalar() or 0)
        wafers = int(
            connection.execute(sa.select(sa.func.count()).select_from(WAFERS)).scalar() or 0
        )
        query = sa.select(LOTS.c.number, LOTS.c.record_sha256, LOTS.c.recorded_at, LOTS.c.document)
        held = {
            row[0]: int(row[1])
            for row in connection.execute(
                sa.select(WAFERS.c.lot_number, sa.func.count()).group_by(WAFERS.c.lot_number)
            )
        }
        for row in connection.execute(query.execution_options(yield_per=_ROWS)):
            try:
                lot = kept_lot(
                    json.loads(row.document),
                    recorded_at=row.recorded_at,
                    record_sha256=row.record_sha256,
                )
            except (HistoryError, ValueError) as error:
                faults.append(f"entry {row.number}: its result cannot be read: {error}")
                continue
            if len(lot.wafers) != held.get(row.number, 0):
                faults.append(
                    f"entry {row.number}: {held.get(row.number, 0)} wafers are kept, its result "
                    f"has {len(lot.wafers)}"
                )
    return Health(VERSION, lots, wafers, tuple(faults))


def copy(history: History, place: str) -> int:
    """Copy everything as it stands at one moment, and say how many lots that are.

    Parameters
    ----------
    history : History
        May be in use; writers are not kept waiting longer than a read takes.
    place : str
        A file that does not exist yet, or an empty database on a server.

    Raises
    ------
    HistoryError
        There is something in the place already, or it cannot be written.
    """
    if "://" in place:
        return _copied(history, place)
    path = Path(place)
    if path.exists():
        raise HistoryError("exists, and is not written over", where=place, hint="name a new file")
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        number = _copied(history, str(beside))
        # Fails where the name was taken meanwhile, which a rename would write over.
        os.link(beside, path)
    except FileExistsError:
        raise HistoryError("was made meanwhile, and is not written over", where=place) from None
    except OSError as error:
        raise HistoryError(f"cannot be written: {error.strerror}", where=place) from error
    finally:
        with suppress(OSError):
            beside.unlink()
    return number


def _copied(history: History, place: str) -> int:
    target = open_history(place, create=True)
    try:
        with target.writing() as out, history.reading() as source:
            if out.execute(sa.select(LOTS.c.number).limit(1)).first() is not None:
                raise HistoryError("holds entries already", where=target.place)
            lots = 0
            for table in (LOTS, WAFERS, PARAMETERS):
                order = table.primary_key.columns.values()
                query = sa.select(table).order_by(*order)
                rows = source.execute(query.execution_options(yield_per=_ROWS)).mappings()
                for some in rows.partitions(_ROWS):
                    out.execute(table.insert(), [dict(row) for row in some])
                    lots += len(some) if table is LOTS else 0
            return lots
    finally:
        target.close()


def exported(history: History) -> Iterator[str]:
    """Every entry as a line of JSON, oldest first."""
    before = LOTS.alias("before")
    query = (
        sa.select(
            LOTS.c.number,
            LOTS.c.record_sha256,
            LOTS.c.recorded_at,
            LOTS.c.why,
            LOTS.c.document,
            before.c.record_sha256.label("corrects"),
        )
        .join_from(LOTS, before, LOTS.c.supersedes == before.c.number, isouter=True)
        .order_by(LOTS.c.number)
        .execution_options(yield_per=_ROWS)
    )
    with history.reading() as connection:
        for row in connection.execute(query):
            entry = {
                "schema": _ENTRY,
                "record_sha256": row.record_sha256,
                "recorded_at": row.recorded_at,
                "corrects": row.corrects,
                "why": row.why,
                "results": json.loads(row.document),
            }
            yield json.dumps(entry, ensure_ascii=False, separators=(",", ":"))


def imported(history: History, entries: Iterable[tuple[str, Any]]) -> int:
    """Append entries that are not there yet, and say how many were.

    Parameters
    ----------
    history : History
    entries : iterable of (str, object)
        Where each comes from, for messages, and the data read from JSON: a line of an export, a
        record of a lot, or what ``lot --json`` printed.
    """
    numbers: dict[str, int] = {}
    written = 0
    plain: list[KeptLot] = []
    for where, data in entries:
        lot, corrects, why = _entry(where, data)
        if corrects is None:
            plain.append(lot)
            if len(plain) >= _ROWS:
                written += keep_many(history, plain)
                plain.clear()
            continue
        written += keep_many(history, plain)
        plain.clear()
        number = _number(history, corrects, numbers)
        if _find(history, lot.record_sha256) is None:
            keep(history, lot, supersedes=number, why=why)
            written += 1
    return written + keep_many(history, plain)


def _entry(where: str, data: Any) -> tuple[KeptLot, str | None, str]:
    schema = str(data.get("schema", "")) if isinstance(data, dict) else ""
    try:
        if schema == _ENTRY:
            lot = kept_lot(
                data["results"],
                recorded_at=str(data["recorded_at"]),
                record_sha256=str(data["record_sha256"]),
            )
            return lot, data["corrects"], str(data["why"])
        if schema.startswith(_RECORD):
            return kept_record(data), None, ""
        if schema.startswith(SCHEMA):
            raise HistoryError(
                "is a result without its record, so nobody could say when it was measured",
                where=where,
                hint="record the lot: filmstress lot LOT.toml --record",
            )
    except HistoryError as error:
        error.where = error.where or where
        raise
    except (KeyError, TypeError) as error:
        raise HistoryError(f"lacks something ({error!r})", where=where) from error
    raise HistoryError(
        "is neither a record of a lot nor an export of a history",
        where=where,
        hint="filmstress history export writes one",
    )


def kept_record(record: Any) -> KeptLot:
    """What is kept of a record of a lot."""
    return kept_lot(
        record["results"],
        recorded_at=str(record["time"]),
        record_sha256=str(record["sha256"]),
    )


def _number(history: History, sha256: str, numbers: dict[str, int]) -> int:
    number = numbers.get(sha256) or _find(history, sha256)
    if number is None:
        raise HistoryError(f"the entry that is corrected is missing (record {sha256[:12]})")
    numbers[sha256] = number
    return number


def _find(history: History, sha256: str) -> int | None:
    with history.reading() as connection:
        number = connection.execute(
            sa.select(LOTS.c.number).where(LOTS.c.record_sha256 == sha256)
        ).scalar()
    return None if number is None else int(number)
