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


def check_not_there(path: str | os.PathLike[str], *, what: str, hint: str) -> None:
    """Refuse a place that is taken already.

    Raises
    ------
    RefusedInput
        There is a file, or a link to one that is not there.
    """
    if os.path.lexists(path):
        raise RefusedInput(
            f"{what} is not written over a file that is there", where=os.fspath(path), hint=hint
        )


def write_whole(
    path: str | os.PathLike[str], data: bytes, *, what: str, replace: bool = True
) -> None:
    """Write a file; it has its name once it is complete.

    Parameters
    ----------
    path : path
        Of the file.
    data : bytes
        All of it.
    what : str
        "the report", "the figure".
    replace : bool
        Whether a file that has the name already is replaced; else it stays, and is refused.

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
        if replace:
            part.replace(target)
        else:
            _give_name(part, target)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise _refused(target, what, error.strerror or str(error)) from error


def _give_name(part: Path, target: Path) -> None:
    """Name a file that is complete, if the name is free."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:
        # File systems without links; between these two lines another may take the name.
        if os.path.lexists(target):
            raise
        part.rename(target)
    else:
        part.unlink()


def _refused(target: Path, what: str, why: str) -> RefusedInput:
    return RefusedInput(f"{what} cannot be written: {why}", where=str(target), hint=_HINT)
