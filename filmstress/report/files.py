"""Files for readers: asked for before the work, written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from filmstress.errors import RefusedInput

_HINT = "name a file in a directory that exists and may be written to"


def writable(path: str | os.PathLike[str], *, what: str) -> None:
    """Refuse a place that cannot be written to, before anything long is begun.

    Parameters
    ----------
    path : path
        Of the file to be written; one that is there already will be replaced.
    what : str
        "the report", "the figure".

    Raises
    ------
    RefusedInput
        The file's directory does not exist or may not be written to, or the path is a directory.
    """
    target = Path(path)
    if target.is_dir():
        raise _refused(target, what, "it is a directory")
    if not target.parent.is_dir():
        raise _refused(target, what, "there is no such directory")
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise _refused(target, what, "the directory may not be written to")


def write_whole(path: str | os.PathLike[str], data: bytes, *, what: str) -> None:
    """Write a file; one that is there already is replaced once the new one is complete.

    Raises
    ------
    RefusedInput
        The file cannot be written.
    """
    target = Path(path)
    part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as file:
            file.write(data)
        part.replace(target)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise _refused(target, what, error.strerror or str(error)) from error


def _refused(target: Path, what: str, why: str) -> RefusedInput:
    return RefusedInput(f"{what} cannot be written: {why}", where=str(target), hint=_HINT)
