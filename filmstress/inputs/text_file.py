"""Reading text files of the user's: regular files of a modest size, in UTF-8."""

from __future__ import annotations

import hashlib
import re
import stat
import tomllib
from dataclasses import dataclass
from pathlib import Path

from filmstress.errors import LotError

MOST_BYTES = 16 * 2**20
# Parts of a dotted key; no key here has more than three, and reading takes their number squared.
_MOST_PARTS = 50
_LONG_KEY = re.compile(
    r"""(?:^|[\[{,])[ \t]*+(?:(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+)"""
    rf"{{{_MOST_PARTS}}}",
    re.MULTILINE,
)


@dataclass(frozen=True, slots=True)
class TextFile:
    """A text file as read, and the SHA-256 of its bytes."""

    path: Path
    text: str
    sha256: str


def read_text_file(path: Path, *, what: str) -> TextFile:
    """Read a whole text file; a mark of byte order is left out, line ends stay as they are.

    Parameters
    ----------
    path : Path
    what : str
        What the file is meant to be, for messages: "lot file".

    Raises
    ------
    LotError
        If it is not a regular file, is larger than 16 MiB, or is not UTF-8.
    """
    try:
        # A device or a pipe has no end, or makes the program wait for ever.
        if not stat.S_ISREG(path.stat().st_mode):
            kind = "a folder" if path.is_dir() else "not a regular file"
            raise LotError(f"is {kind}", where=str(path), hint=f"name the {what} itself")
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise LotError(
            f"cannot be read: {reason}",
            where=str(path),
            hint=f"check the name of the {what} and the rights to it",
        ) from None
    except ValueError:
        raise LotError(
            "is not the name of a file", where=ascii(str(path)), hint=f"name the {what}"
        ) from None
    if len(raw) > MOST_BYTES:
        raise LotError(
            f"is too large for a {what}",
            where=str(path),
            hint=f"at most {MOST_BYTES // 2**20} MiB; scans are named in it, not put into it",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise LotError(
            f"byte {error.start} is not UTF-8", where=str(path), hint=f"save the {what} as UTF-8"
        ) from None
    return TextFile(path, text, hashlib.sha256(raw).hexdigest())


def toml_of(text: str) -> dict[str, object]:
    """What a TOML text holds.

    Raises
    ------
    ValueError
        It is not TOML, or nested too deep; the message says where.
    """
    if long := _LONG_KEY.search(text):
        line = text.count("\n", 0, long.start()) + 1
        raise ValueError(
            f"nested too deep, a key of more than {_MOST_PARTS} parts (at line {line})"
        )
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("nested too deep") from None
