"""Files of a recorded lot: their bytes, and where they lie now."""

from __future__ import annotations

import hashlib
import stat
from pathlib import Path

_BLOCK = 2**20


def size_and_sha256(path: Path) -> tuple[int | None, str | None]:
    """Size and SHA-256 of a regular file; None and None where there is none to be read."""
    digest, size = hashlib.sha256(), 0
    try:
        # A device or a pipe has no end, or makes the program wait for ever.
        if not stat.S_ISREG(path.stat().st_mode):
            return None, None
        with path.open("rb") as file:
            while block := file.read(_BLOCK):
                digest.update(block)
                size += len(block)
    except (OSError, ValueError):
        return None, None
    return size, digest.hexdigest()


def located(path: str, folder: Path, *, moved: bool) -> Path:
    """Where a recorded file lies now.

    Parameters
    ----------
    path : str
        As recorded: from the folder of the lot file, or absolute.
    folder : Path
        Where the lot's files are.
    moved : bool
        Whether the files were moved: what is not found by its path is then looked for by as much
        of the end of its path as leads to a file.

    Returns
    -------
    Path
        Where it should be, if it is nowhere.
    """
    direct = folder / path
    if moved and not direct.is_file():
        parts = Path(path).parts
        for start in range(1, len(parts)):
            found = folder.joinpath(*parts[start:])
            if found.is_file():
                return found
    return direct
