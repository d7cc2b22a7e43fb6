"""Where output goes: data to stdout, words to stderr."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TextIO

from filmstress.errors import RefusedInput

# How the signs outside ASCII that we write are spelled where the reader's encoding lacks them.
_SPELLED = str.maketrans(
    {"±": "+/-", "−": "-", "×": "x", "…": "...", "≥": ">=", "≤": "<=", "Å": "angstrom"}
    | {"µ": "u", "μ": "u", "κ": "curvature", "ν": "nu"}
)
# Wide signs count as well: some spreadsheets take them for the narrow ones.
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
# What a terminal obeys instead of showing: controls, and marks that turn the direction of a line.
_OBEYED = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def show(text: str, *, end: str = "\n") -> None:
    """Write data to stdout, ended by a line end if not by ``end``.

    What a terminal would obey instead of showing it is written as U+FFFD.

    A reader that has gone away (``| head``) stops the writing, not the program: its exit code
    still tells the result.

    Raises
    ------
    RefusedInput
        Standard output cannot be written to.
    """
    out: TextIO | None = sys.stdout
    if out is None:  # closed by the caller
        return
    try:
        out.write(_spelled_for(out, text if text.endswith("\n") else text + end))
        out.flush()
    except BrokenPipeError:
        _drop_stdout()
    except OSError as error:
        _drop_stdout()
        raise RefusedInput(
            f"cannot be written: {error.strerror or error}",
            where="standard output",
            hint="make room, or send it elsewhere",
        ) from error


def show_json(
    data: Mapping[str, Any],
    inputs: Mapping[str, Any] | None = None,
    /,
    **entries: Iterable[Mapping[str, Any]],
) -> None:
    """Write one JSON object to stdout; in ASCII where the reader's encoding is not UTF-8.

    Parameters
    ----------
    data : mapping
        The object.
    inputs : mapping, optional
        What was asked, where the object does not tell it by itself; stands behind its head.
    **entries : iterable of mappings
        What an empty list of the object, of this name, holds; each is written as it comes, so that
        a long list need not be held.
    """
    import json

    if inputs is not None:
        schema, version, *results = data.items()
        data = {"warnings": [], **dict([schema, version, ("inputs", inputs), *results])}
        data["warnings"] = data.pop("warnings")
    narrow = "utf" not in (getattr(sys.stdout, "encoding", None) or "").lower()

    def text(of: Mapping[str, Any]) -> str:
        return json_shown(json.dumps(of, indent=2, ensure_ascii=narrow, allow_nan=False))

    rest = text(data)
    for name, those in entries.items():
        # Nothing but a name of the object itself stands two blanks from the edge.
        before, empty, rest = rest.partition(f'\n  "{name}": []')
        written = before + empty.removesuffix("]")
        for one in those:
            show(written + "\n    " + text(one).replace("\n", "\n    "), end="")
            written = ","
        rest = ("\n  ]" if written == "," else written + "]") + rest
    show(rest)


def json_shown(text: str) -> str:
    """JSON of the same data without what a terminal would obey: its texts have escapes for that."""
    return _OBEYED.sub(lambda found: f"\\u{ord(found.group()):04x}", text)


def show_csv(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table to stdout.

    Texts that a spreadsheet would take for a formula get a leading apostrophe; numbers do not.
    """
    import csv
    import io

    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(map(_harmless, heads))
    for row in rows:
        writer.writerow(["" if cell is None else _harmless(cell) for cell in row])
    show(buffer.getvalue())


def say(text: str) -> None:
    """Write words to stderr; if nobody can hear them, go on."""
    out: TextIO | None = sys.stderr
    if out is None:
        return
    try:
        out.write(_spelled_for(out, text) + "\n")
        out.flush()
    except OSError:
        pass


def _harmless(cell: object) -> object:
    if isinstance(cell, str) and cell.lstrip(" ").startswith(_FORMULA_SIGNS):
        return "'" + cell
    return cell


def _spelled_for(stream: TextIO, text: str) -> str:
    """The text in what the stream's encoding can write, and without what a terminal obeys."""
    text = _OBEYED.sub("\ufffd", text)
    encoding = stream.encoding or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        # Only what it lacks: Latin-1 has a ±, but no minus sign.
        lacking = {ord(sign) for sign in set(text) if not _can_write(sign, encoding)}
        spelled = text.translate({sign: _SPELLED.get(sign, chr(sign)) for sign in lacking})
        # What is left then are letters of file names and ids.
        return spelled.encode(encoding, "backslashreplace").decode(encoding)
    return text


def _can_write(sign: str, encoding: str) -> bool:
    try:
        sign.encode(encoding)
    except UnicodeEncodeError:
        return False
    return True


def _drop_stdout() -> None:
    """Send what is still buffered nowhere, so that it does not raise again at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
