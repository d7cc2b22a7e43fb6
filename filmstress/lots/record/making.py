"""What a record holds, but for its place in the chain."""

from __future__ import annotations

import hashlib
import os
import platform
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from filmstress.errors import FilmstressError, RefusedInput
from filmstress.inputs.scan_parts import FROM_LOT
from filmstress.lots.batch import Procedure
from filmstress.lots.record.canonical import SCHEMA, Data
from filmstress.lots.record.files import size_and_sha256
from filmstress.records.lot import LotResult, LotSpec
from filmstress.substrates.catalogue import find_cut
from filmstress.substrates.table import Constant, file_sha256


def record_of(
    result: LotResult,
    results: Mapping[str, Any],
    *,
    folder: Path,
    procedure: Procedure,
    version: str,
) -> Data:
    """Everything needed to recompute a lot, as plain data.

    Parameters
    ----------
    result : LotResult
        The lot as measured.
    results : mapping
        The same in the form of ``lot --json``, which the record keeps.
    folder : Path
        Of the records; the record says where the lot file lies, seen from there.
    procedure : Procedure
        By which it was measured.
    version : str
        Of filmstress.

    Raises
    ------
    RefusedInput
        A file was changed while the lot was measured.
    """
    lot = result.lot
    table = None if lot.table is None else _text_data(Path(lot.table[0]), lot.table[1], lot)
    return {
        "schema": SCHEMA,
        "filmstress": version,
        "lot": lot.lot,
        "recipe": lot.recipe,
        "time": datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
        "made_with": made_with(),
        "settings": asdict(procedure),
        "lot_file": {"folder": _seen_from(folder, Path(lot.path).parent)}
        | _text_data(Path(lot.path), lot.sha256, lot),
        "wafer_table": table,
        "files": list(_files_data(result)),
        "substrate_table": table_data(lot),
        "results": dict(results),
    }


def made_with() -> dict[str, str]:
    """Versions of what numbers come from, and the kind of machine."""
    return {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "system": platform.system(),
        "machine": platform.machine(),
    }


def table_data(lot: LotSpec) -> Data | None:
    """The substrate table as far as a lot uses it; None where it states its constants."""
    constants = dict.fromkeys(constant for wafer in lot.wafers for constant in _constants(wafer))
    if not constants:
        return None
    edition = next(iter(constants)).edition
    return {
        "edition": edition,
        "sha256": file_sha256(edition),
        "rows": [asdict(constant) | {"status": str(constant.status)} for constant in constants],
    }


def _constants(wafer: Any) -> tuple[Constant, ...]:
    if wafer.substrate.material is None:
        return ()
    try:
        return find_cut(wafer.substrate.material).constants
    except FilmstressError:  # the wafer was refused for it
        return ()


def _text_data(path: Path, sha256: str, lot: LotSpec) -> Data:
    """A text file, whole: its bytes are those that were measured by."""
    raw = path.read_bytes()
    if hashlib.sha256(raw).hexdigest() != sha256:
        raise _changed(str(path))
    return {
        "path": _from_lot_file(str(path), lot),
        "size": len(raw),
        "sha256": sha256,
        # A mark of byte order is kept, so that the text in UTF-8 is the file again.
        "text": raw.decode("utf-8"),
    }


def _files_data(result: LotResult) -> Iterator[Data]:
    measured = {
        source.path: source.sha256
        for outcome in result.wafers
        if outcome.result is not None
        for _, source in outcome.result.files
    }
    for path in dict.fromkeys(_paths(result.lot)):
        size, sha256 = size_and_sha256(Path(path))
        if path in measured and measured[path] != sha256:
            raise _changed(path)
        yield {"path": _from_lot_file(path, result.lot), "size": size, "sha256": sha256}
    yield from _thickness_files(result.lot)


def _thickness_files(lot: LotSpec) -> Iterator[Data]:
    """What film thicknesses rest on: their records, and the scans over steps."""
    named = dict.fromkeys(
        (path, sha256, number == 0)
        for wafer in lot.wafers
        for number, (path, sha256) in enumerate(wafer.film.thickness_files)
    )
    for path, stated, is_record in named:
        size, sha256 = size_and_sha256(Path(path))
        if is_record and sha256 != stated:
            raise _changed(path)
        if sha256 not in (None, stated):
            raise RefusedInput(
                "is not the scan that the film's thickness was measured on",
                where=path,
                hint="measure the thickness again: filmstress thickness SCAN... --json",
            )
        # The SHA-256 of a scan that is not at hand stands in the thickness record.
        yield {"path": _from_lot_file(path, lot), "size": size, "sha256": sha256}


def _paths(lot: LotSpec) -> Iterator[str]:
    for wafer in lot.wafers:
        for line in wafer.lines:
            for state in (*line.states, *line.weight):
                for path in (state.scan.path, state.scan.datum):
                    if path is not None and path != FROM_LOT:
                        yield path


def _from_lot_file(path: str, lot: LotSpec) -> str:
    """A path as the lot file may have written it, with the same separators everywhere."""
    folder = Path(lot.path).parent
    whole = Path(path)
    return (whole.relative_to(folder) if whole.is_relative_to(folder) else whole).as_posix()


def _seen_from(folder: Path, place: Path) -> str:
    """Where a place lies from a folder, so that both may be moved together."""
    try:
        return Path(os.path.relpath(place.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return place.resolve().as_posix()


def _changed(path: str) -> RefusedInput:
    return RefusedInput(
        "was changed while the lot was measured: no record is written",
        where=path,
        hint="run it again",
    )
