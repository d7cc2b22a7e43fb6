"""The folder of records: written whole or not at all, numbered without gaps, never overwritten.

One writer at a time holds the lock of the folder, which the system gives back when a process ends,
however it ends.  Under it the last record is looked up, the new one is written to a temporary file,
brought to the disk, and only then given its name.  What a killed process leaves behind is a
temporary file, which no reader looks at and the next writer removes.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from filmstress.errors import RefusedInput
from filmstress.lots.record.canonical import sealed, written
from filmstress.lots.record.names import number_of, record_name
from filmstress.lots.record.reading import holds_its_seal, read_data

_LOCK, _UNFINISHED = ".lock", ".unfinished"
_READ_ONLY = 0o444


@dataclass(frozen=True, slots=True)
class Written:
    """A record as it was written: its file, its place in the chain, its SHA-256."""

    path: Path
    number: int
    sha256: str
    previous: str | None


def check_folder(folder: Path) -> None:
    """Make the folder where there is none, and see that a record can be added to it.

    Raises
    ------
    RefusedInput
        It cannot be written to, or its last record was changed.
    """
    with _locked(folder):
        _last(folder)
        _write_whole(folder, b"\n", None)


def add_record(folder: Path, body: Mapping[str, Any]) -> Written:
    """Number a record, chain it to the last one of its folder, and write it.

    Parameters
    ----------
    folder : Path
        Made where there is none.
    body : mapping
        As `filmstress.lots.record.making.record_of` gives it.

    Raises
    ------
    RefusedInput
        The folder cannot be written to, the disk is full, or the last record was changed.  There
        is no record then, nor half of one.
    """
    with _locked(folder):
        before = _last(folder)
        number, previous = (1, None) if before is None else (before[0] + 1, before[1])
        head = {"schema": body["schema"], "filmstress": body["filmstress"]}
        record = sealed({**head, "number": number, "previous": previous, **body})
        path = folder / record_name(number, body["lot"])
        _write_whole(folder, written(record), path)
        _bring_to_disk(folder)
    return Written(path, number, record["sha256"], previous)


def numbered(folder: Path) -> list[tuple[int, Path]]:
    """Number and file of every record in a folder, in order."""
    found = [(number_of(path.name), path) for path in folder.iterdir()]
    return sorted((number, path) for number, path in found if number is not None)


def _last(folder: Path) -> tuple[int, str] | None:
    """Number and SHA-256 of the last record; None in a new folder."""
    found = numbered(folder)
    if not found:
        return None
    number, path = found[-1]
    raw, data = read_data(path)
    if not holds_its_seal(raw, data) or data.get("number") != number:
        raise RefusedInput(
            "was changed after it was written, and nothing can be chained to it",
            where=str(path),
            hint="keep the folder as it is for whoever looks into it, and go on in a new one, "
            "named by --record-folder",
        )
    return number, str(data["sha256"])


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)
        lock = os.open(folder / _LOCK, flags, 0o666)
        with suppress(OSError):  # whoever may add to the folder may take its lock
            (folder / _LOCK).chmod(0o666)
    except (OSError, ValueError) as error:
        raise _refused(folder, error) from error
    try:
        _wait_for(lock)
        yield
    except OSError as error:
        raise _refused(folder, error) from error
    finally:
        os.close(lock)


def _wait_for(lock: int) -> None:
    if os.name != "nt":
        import fcntl

        fcntl.flock(lock, fcntl.LOCK_EX)
        return
    import msvcrt  # type: ignore[unreachable, unused-ignore]

    while True:
        with suppress(OSError):
            msvcrt.locking(lock, msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined, unused-ignore]
            return


def _write_whole(folder: Path, raw: bytes, path: Path | None) -> None:
    """Write a temporary file to the disk and give it its name; without one it was a trial."""
    unfinished = folder / _UNFINISHED
    unfinished.unlink(missing_ok=True)  # of a process that was killed
    try:
        with unfinished.open("xb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        if path is not None:
            if os.name == "posix":  # elsewhere its second name could not be taken away
                unfinished.chmod(_READ_ONLY)
            _give_name(unfinished, path)
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)


def _give_name(unfinished: Path, path: Path) -> None:
    """Name a file that is complete; one that has the name already is never overwritten."""
    try:
        os.link(unfinished, path)
    except FileExistsError:
        raise
    except OSError:
        # File systems without links; under the lock nobody else takes the name.
        if path.exists():
            raise FileExistsError(f"{path.name} exists") from None
        unfinished.rename(path)


def _bring_to_disk(folder: Path) -> None:
    """Have the folder itself written, where the system does that."""
    with suppress(OSError):
        entry = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(entry)
        finally:
            os.close(entry)


def _refused(folder: Path, error: OSError | ValueError) -> RefusedInput:
    reason = getattr(error, "strerror", None) or str(error)
    return RefusedInput(
        f"no record can be written here: {reason}",
        where=str(folder),
        hint="make room, or mend the rights to the folder, or name another by --record-folder",
    )
