"""Names of record files: a number, and what a lot's name leaves that any file system takes."""

from __future__ import annotations

import os
import re
import unicodedata

_DIGITS = 4
_NAMED = re.compile(r"([0-9]{4,12})-.+\.json", re.DOTALL)
# Bytes of the part that comes from the lot's name; file systems take 255 for the whole.
_MOST_BYTES = 100


def record_name(number: int, lot: str) -> str:
    """File name of a record: ``0003-N24-03.json``.

    Letters and digits of any script stay, as do ``-``, ``_`` and inner ``.``; anything else,
    separators of folders among it, becomes ``-``.
    """
    return f"{number:0{_DIGITS}}-{_harmless(lot)}.json"


def number_of(name: str) -> int | None:
    """Number in the name of a record file; None where it is not the name of one."""
    match = _NAMED.fullmatch(name)
    return int(match[1]) if match else None


def _harmless(lot: str) -> str:
    composed = unicodedata.normalize("NFC", lot)
    plain = re.sub(r"-+", "-", "".join(c if _is_harmless(c) else "-" for c in composed))
    kept, size = "", 0
    for letter in plain.strip("-."):
        size += len(letter.encode("utf-8"))
        if size > _MOST_BYTES:
            break
        kept += letter
    return kept.strip("-.") or "lot"


def _is_harmless(letter: str) -> bool:
    if letter in "-_.":
        return True
    try:
        os.fsencode(letter)
    except UnicodeEncodeError:  # not on this system
        return False
    return letter.isalnum()
