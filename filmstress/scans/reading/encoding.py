"""Which encoding the bytes of a text file are in."""

from __future__ import annotations

import codecs

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def find_encoding(head: bytes) -> str:
    """Name of the encoding: by its byte order mark, by its NUL bytes, else UTF-8 or Latin-1.

    UTF-16 without a mark shows in every other byte of plain text being NUL.  Every sequence of
    bytes is valid Latin-1, so that comes last; the micro and angstrom signs are the same in it and
    in its 8-bit relatives.  A header that was put together from several sources may hold both:
    then what is valid UTF-8 is read as that (see `codec`).
    """
    for mark, name in _MARKS:
        if head.startswith(mark):
            return name
    if head.isascii() and b"\0" not in head:
        return "utf-8"
    even, odd = head[:1024:2], head[1:1024:2]
    if even and odd:
        if odd.count(0) > 0.8 * len(odd) and even.count(0) == 0:
            return "utf-16-le"
        if even.count(0) > 0.8 * len(even) and odd.count(0) == 0:
            return "utf-16-be"
    try:
        # Incremental, for the head may end within a character.
        codecs.getincrementaldecoder("utf-8")().decode(head)
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _as_latin_1(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("filmstress-latin-1", _as_latin_1)


def codec(encoding: str) -> tuple[str, str]:
    """Codec and error handler for text in an encoding.

    In Latin-1, bytes that are valid UTF-8 are that: no word is written so, as they are an accented
    capital and a sign.  In others, bytes that do not fit become U+FFFD, which no number has.
    """
    return ("utf-8", "filmstress-latin-1") if encoding == "latin-1" else (encoding, "replace")


def spoken(encoding: str) -> str | None:
    """How a note names an encoding; None for UTF-8, which needs none."""
    if encoding.startswith("utf-16"):
        return "UTF-16"
    return "Latin-1" if encoding == "latin-1" else None


def decode_head(head: bytes, encoding: str) -> str:
    """Text of the first bytes, with a character that was cut off left away."""
    name, errors = codec(encoding)
    return codecs.getincrementaldecoder(name)(errors=errors).decode(head)
