"""What kind of file it is, by its first bytes; its name is not asked."""

from __future__ import annotations

import re
from enum import Enum


class Format(Enum):
    """Kinds of files that scans are read from."""

    TEXT = "delimited text"
    X3P = "X3P"
    SDF = "SDF"


# "aISO-1.0" or "bBCR-1.0" and its kin; of an ASCII file the rest of the line is empty.
_SDF_ASCII = re.compile(
    rb"(?:\xef\xbb\xbf)?[aA][A-Z]{2,5}-V?[0-9]\.[0-9][ \t]*(?:;[^\r\n]*)?[\r\n]"
)
_SDF_BINARY = re.compile(rb"[bB](?:ISO|BCR)-[0-9]\.[0-9]")


def format_of(head: bytes) -> Format:
    """The kind of a file, by its head; whatever is none of the others is taken for text."""
    if head.startswith(b"PK\x03\x04"):
        return Format.X3P
    if _SDF_ASCII.match(head) or _SDF_BINARY.match(head):
        return Format.SDF
    return Format.TEXT
