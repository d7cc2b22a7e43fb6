"""Reading a record: its data, whether its file is as it was written, its parts by type."""

from __future__ import annotations

import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar, cast

from filmstress.errors import RefusedInput
from filmstress.lots.batch import Procedure
from filmstress.lots.record.canonical import SCHEMA, SEAL, Data, parsed, seal_of, written

_NAME, _, _VERSION = SCHEMA.rpartition("/")
_MOST_BYTES = 2**30

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class RecordedFile:
    """A file that a recorded lot was measured from.

    Attributes
    ----------
    path : str
        From the folder of the lot file, or absolute where the lot file names it so.
    size : int or None
        Bytes; None where the file could not be read then.
    sha256 : str or None
        Of its bytes.
    """

    path: str
    size: int | None
    sha256: str | None


@dataclass(frozen=True, slots=True)
class Text:
    """A text file of which the record holds a copy."""

    file: RecordedFile
    text: str


@dataclass(frozen=True, slots=True)
class Record:
    """A record as read.

    Attributes
    ----------
    path : Path
        Its file.
    intact : bool
        Whether the file is, byte for byte, one whose SHA-256 it states.
    sha256 : str
        That it states of itself.
    number, previous : int, str or None
        Its place in the chain: its number, and the SHA-256 of the record before it.
    lot, time, version : str
        Name of the lot, when it was measured (UTC), version of filmstress.
    made_with : mapping of str to str
        Versions of what the numbers came from, and the kind of machine.
    procedure : Procedure
        By which it was measured.
    folder : str
        Of the lot file, from the folder of the record.
    lot_file, wafer_table : Text, Text or None
    files : tuple of RecordedFile
        Scans and the stage's straightness.
    table : mapping or None
        Edition and SHA-256 of the substrate table, and the rows used.
    results : dict
        The lot's result in the form of ``lot --json``.
    """

    path: Path
    intact: bool
    sha256: str
    number: int
    previous: str | None
    lot: str
    time: str
    version: str
    made_with: Mapping[str, str]
    procedure: Procedure
    folder: str
    lot_file: Text
    wafer_table: Text | None
    files: tuple[RecordedFile, ...]
    table: Data | None
    results: Data


def read_data(path: Path) -> tuple[bytes, Data]:
    """The bytes of a record's file, and its data.

    Raises
    ------
    RefusedInput
        The file cannot be read, or is no record.
    """
    try:
        if not stat.S_ISREG(path.stat().st_mode):
            kind = "a folder" if path.is_dir() else "not a regular file"
            raise RefusedInput(f"is {kind}", where=str(path), hint="name the record itself")
        if path.stat().st_size > _MOST_BYTES:
            raise RefusedInput("is too large for a record", where=str(path))
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "it is not the name of a file"
        raise RefusedInput(
            f"cannot be read: {reason}",
            where=ascii(str(path)) if isinstance(error, ValueError) else str(path),
            hint="name a record that  filmstress lot LOT.toml --record  has written",
        ) from None
    try:
        data = parsed(raw)
    except ValueError as error:
        raise _no_record(path, f"it is not JSON: {error}") from None
    schema = data.get("schema") if isinstance(data, dict) else None
    name, _, version = schema.rpartition("/") if isinstance(schema, str) else ("", "", "")
    if name != _NAME:
        raise _no_record(path, f'no schema "{SCHEMA}" is named in it')
    if version != _VERSION:
        raise RefusedInput(
            f"is a record in form {version!a}, and this program reads form {_VERSION}",
            where=str(path),
            hint="verify it with the version of filmstress that wrote it, or a later one",
        )
    return raw, cast(Data, data)


def holds_its_seal(raw: bytes, data: Mapping[str, Any]) -> bool:
    """Whether a record is, byte for byte, one whose SHA-256 it states."""
    try:
        return data.get(SEAL) == seal_of(data) and written(data) == raw
    except (ValueError, RecursionError):
        return False


def read_record(path: Path) -> Record:
    """Read a record; one that was changed is read as far as its parts are still there.

    Raises
    ------
    RefusedInput
        The file cannot be read, is no record, or lacks a part.
    """
    raw, data = read_data(path)
    part = _Part(data, path)
    settings, lot_file = part.inner("settings"), part.inner("lot_file")
    return Record(
        path=path,
        intact=holds_its_seal(raw, data),
        sha256=part.of("sha256", str),
        number=part.of("number", int),
        previous=part.maybe("previous", str),
        lot=part.of("lot", str),
        time=part.of("time", str),
        version=part.of("filmstress", str),
        made_with=part.texts("made_with"),
        procedure=Procedure(
            noise=settings.word("noise", ("sharp", "balanced", "safe")),
            monte_carlo=settings.of("monte_carlo", bool),
            seed=settings.of("seed", int),
        ),
        folder=lot_file.place("folder"),
        lot_file=lot_file.text_file(),
        wafer_table=part.inner("wafer_table").text_file() if part.has("wafer_table") else None,
        files=tuple(one.file() for one in part.list_of("files")),
        table=part.of("substrate_table", dict) if part.has("substrate_table") else None,
        results=part.of("results", dict),
    )


class _Part:
    """An object within a record, read by type; what is not there is said by its name."""

    def __init__(self, data: Mapping[str, Any], path: Path, name: str = "") -> None:
        self.data, self.path, self.name = data, path, name

    def has(self, key: str) -> bool:
        return self.data.get(key) is not None

    def of(self, key: str, kind: type[T]) -> T:
        value = self.data.get(key)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.fault(key)
        return value

    def maybe(self, key: str, kind: type[T]) -> T | None:
        return self.of(key, kind) if self.has(key) else None

    def word(self, key: str, words: tuple[str, ...]) -> str:
        word = self.of(key, str)
        if word not in words:
            raise self.fault(key)
        return word

    def place(self, key: str) -> str:
        place = self.of(key, str)
        if "\0" in place or not place:
            raise self.fault(key)
        return place

    def texts(self, key: str) -> dict[str, str]:
        inner = self.inner(key)
        return {name: inner.of(name, str) for name in inner.data}

    def inner(self, key: str) -> _Part:
        return _Part(self.of(key, dict), self.path, f"{self.name}{key}.")

    def list_of(self, key: str) -> list[_Part]:
        return [
            _Part(one if isinstance(one, dict) else {}, self.path, f"{self.name}{key}[{number}].")
            for number, one in enumerate(self.of(key, list))
        ]

    def file(self) -> RecordedFile:
        return RecordedFile(self.place("path"), self.maybe("size", int), self.maybe("sha256", str))

    def text_file(self) -> Text:
        return Text(self.file(), self.of("text", str))

    def fault(self, key: str) -> RefusedInput:
        return _no_record(self.path, f"its part '{self.name}{key}' is missing or was changed")


def _no_record(path: Path, reason: str) -> RefusedInput:
    return RefusedInput(
        f"is no record of a lot, or no longer: {reason}",
        where=str(path),
        hint="name a record that  filmstress lot LOT.toml --record  has written",
    )
