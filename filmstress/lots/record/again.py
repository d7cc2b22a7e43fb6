"""A recorded lot, measured again from the texts in its record and the scans on disk."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path

from filmstress.errors import RefusedInput
from filmstress.inputs.scan_parts import FROM_LOT
from filmstress.inputs.text_file import TextFile
from filmstress.lots.batch import measure_lot
from filmstress.lots.manifest import lot_of_text
from filmstress.lots.record.files import located, size_and_sha256
from filmstress.lots.record.reading import Record, RecordedFile, Text
from filmstress.records.lot import LotResult, LotSpec
from filmstress.records.verification import Difference
from filmstress.records.wafer import ScanSpec, State, WaferSpec


class Files:
    """Where the files of a record are looked for.

    Parameters
    ----------
    record : Record
    folder : path, optional
        Where they were moved to, with the folders that they lie in; by default where the lot file
        was, seen from the record.

    Raises
    ------
    RefusedInput
        There is no such folder.
    """

    def __init__(self, record: Record, folder: str | Path | None = None) -> None:
        self.moved = folder is not None
        if folder is None:
            self.folder = (record.path.parent.resolve() / record.folder).resolve()
        else:
            self.folder = Path(folder)
            if not self.folder.is_dir():
                raise RefusedInput(
                    "no such folder",
                    where=str(folder),
                    hint="name the folder that the files of the lot lie in now",
                )

    def path(self, recorded: str) -> Path:
        """Where a recorded file lies now."""
        return located(recorded, self.folder, moved=self.moved)


def changed_files(record: Record, files: Files) -> Iterator[Difference]:
    """Every file that is no longer what it was: lot file, wafer table, scans."""
    texts = [("lot file", record.lot_file), ("wafer table", record.wafer_table)]
    for about, text in texts:
        if text is not None:
            for one in _changed(about, text.file, files):
                told = f"{one.message}; recomputed from the record's own copy"
                yield replace(one, message=told)
    for file in record.files:
        yield from _changed("scan", file, files)


def _changed(about: str, file: RecordedFile, files: Files) -> Iterator[Difference]:
    size, sha256 = size_and_sha256(files.path(file.path))
    if sha256 == file.sha256 and size == file.size:
        return
    if sha256 is None:
        told = "missing"
    elif file.sha256 is None:
        told = "could not be read then, and can be now"
    elif sha256 == file.sha256:
        told = f"the record states {file.size} bytes, there are {size}"
    else:
        told = "changed" if size == file.size else f"changed, {file.size} bytes then, {size} now"
    yield Difference(about, file.path, told, file.sha256, sha256)


def recorded_lot(record: Record, files: Files) -> LotSpec:
    """The lot as it was asked for, its files where they lie now.

    Raises
    ------
    FilmstressError
        This version of filmstress refuses the lot file.
    """
    table = None if record.wafer_table is None else _as_read(record.wafer_table, files)
    lot = lot_of_text(_as_read(record.lot_file, files), table)
    if files.moved:
        lot = replace(lot, wafers=tuple(_moved(wafer, files) for wafer in lot.wafers))
    return lot


def measure_again(record: Record, lot: LotSpec, *, executor: Executor | None = None) -> LotResult:
    """Measure a recorded lot again, with the settings of its day.

    Raises
    ------
    RefusedInput
        The lot cannot be measured as a whole.
    """
    return measure_lot(lot, executor=executor, procedure=record.procedure)


def _as_read(text: Text, files: Files) -> TextFile:
    # Paths in the lot file start from where it would lie, even where it is missing now.
    path = files.folder / Path(text.file.path).name
    return TextFile(path, text.text.removeprefix("\ufeff"), text.file.sha256 or "")


def _moved(wafer: WaferSpec, files: Files) -> WaferSpec:
    def moved(states: tuple[State, ...]) -> tuple[State, ...]:
        return tuple(State(one.name, _scan(one.scan, files)) for one in states)

    lines = tuple(
        replace(line, states=moved(line.states), weight=moved(line.weight)) for line in wafer.lines
    )
    return replace(wafer, lines=lines)


def _scan(scan: ScanSpec, files: Files) -> ScanSpec:
    def found(path: str | None) -> str | None:
        if path is None or path == FROM_LOT or Path(path).is_file():
            return path
        whole = Path(path)
        inside = whole.relative_to(files.folder) if whole.is_relative_to(files.folder) else whole
        return str(files.path(inside.as_posix()))

    return replace(scan, path=found(scan.path), datum=found(scan.datum))
