"""Files of JSON that are named to the history."""

from __future__ import annotations

import sys
from pathlib import Path

from filmstress.errors import HistoryError


def bytes_of(name: str) -> bytes:
    """The bytes of a regular file, or of standard input where it is called '-'.

    Raises
    ------
    HistoryError
        There is none, or it cannot be read.
    """
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        # A device or a pipe has no end, or makes the program wait for ever.
        if Path(name).exists() and not Path(name).is_file():
            raise HistoryError("is no file", where=name, hint="name a record or an export")
        return Path(name).read_bytes()
    except OSError as error:
        raise HistoryError(f"cannot be read: {error.strerror}", where=name) from error
    except ValueError as error:
        raise HistoryError("is not the name of a file", where=ascii(name)) from error
