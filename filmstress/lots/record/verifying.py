"""Verify a record: what of it still holds."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from pathlib import Path

from filmstress.errors import FilmstressError, InternalError
from filmstress.lots.record.again import Files, changed_files, measure_again, recorded_lot
from filmstress.lots.record.canonical import Data, plain
from filmstress.lots.record.chain import check_chain
from filmstress.lots.record.comparison import compare
from filmstress.lots.record.making import made_with, table_data
from filmstress.lots.record.reading import Record, read_record
from filmstress.records.lot import LotResult, LotSpec
from filmstress.records.verification import Comparison, Difference, Verification


def verify_record(
    path: str | Path,
    *,
    version: str,
    results_of: Callable[[LotResult], Data],
    folder: str | Path | None = None,
    executor: Executor | None = None,
) -> Verification:
    """Check a record and its chain, compare its files, and measure its lot again.

    Parameters
    ----------
    path : path
        The record.
    version : str
        Of this filmstress.
    results_of : callable
        A lot's result in the form that the record keeps it in, that of ``lot --json``.
    folder : path, optional
        Where the lot's files were moved to.
    executor : concurrent.futures.Executor, optional
        Where to measure; by default here.

    Raises
    ------
    RefusedInput
        The file is no record or cannot be read, or there is no such folder.
    """
    record = read_record(Path(path))
    files = Files(record, folder)
    records, broken = check_chain(record)
    differences = [*_own(record), *broken, *changed_files(record, files)]
    comparison: Comparison | None = None
    try:
        lot = recorded_lot(record, files)
        differences += _table(record, lot)
        again = measure_again(record, lot, executor=executor)
    except InternalError:
        raise
    except FilmstressError as error:
        told = "cannot be recomputed: " + " ".join(str(error).split())
        differences.append(Difference("results", "", told))
    else:
        comparison = compare(
            record.results,
            plain(results_of(again)),
            same_program=_same_program(record, version),
        )
        differences += comparison.differences
    return Verification(
        path=str(path),
        sha256=record.sha256,
        number=record.number,
        records=records,
        lot=record.lot,
        time=record.time,
        version=record.version,
        folder=str(files.folder),
        files=1 + (record.wafer_table is not None) + len(record.files),
        differences=tuple(differences),
        notes=tuple(_notes(record, version)),
        comparison=comparison,
    )


def _own(record: Record) -> Iterator[Difference]:
    """What the record says of itself that does not hold."""
    name = record.path.name
    if not record.intact:
        yield Difference("record", name, "was changed after it was written")
    for text in (record.lot_file, record.wafer_table):
        if text is None:
            continue
        try:
            found = hashlib.sha256(text.text.encode("utf-8")).hexdigest()
        except UnicodeEncodeError:
            found = "none"
        if found != text.file.sha256:
            told = f"its copy of {text.file.path} is not the file whose SHA-256 it states"
            yield Difference("record", name, told, text.file.sha256, found)
    named = record.results.get("lot")
    if named != record.lot:
        yield Difference("record", name, "its results are those of another lot")


def _table(record: Record, lot: LotSpec) -> Iterator[Difference]:
    """How the substrate table differs from that of its day."""
    then, now = record.table, plain(table_data(lot))
    if then == now:
        return
    editions = [None if one is None else str(one.get("edition")) for one in (then, now)]
    if then is None or now is None or editions[0] != editions[1]:
        told = f"edition {editions[0] or 'none'} then, {editions[1] or 'none'} now"
        yield Difference("substrate table", "", told, *editions)
        return
    rows = "the rows used are the same" if then.get("rows") == now["rows"] else "rows used too"
    if then.get("sha256") != now["sha256"]:
        told = f"changed; {rows}"
        yield Difference(
            "substrate table",
            f"edition {editions[0]}",
            told,
            str(then.get("sha256")),
            now["sha256"],
        )
    else:
        told = "the rows in the record are not those of the table"
        yield Difference("substrate table", f"edition {editions[0]}", told)


def _notes(record: Record, version: str) -> Iterator[str]:
    if record.version != version:
        yield f"measured with filmstress {record.version}, recomputed with {version}"
    now = made_with()
    for name, then in record.made_with.items():
        if now.get(name) != then:
            yield f"{name}: {then} then, {now.get(name, 'not known')} now"


def _same_program(record: Record, version: str) -> bool:
    return record.version == version and record.made_with == made_with()
