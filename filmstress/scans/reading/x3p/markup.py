"""The XML of an X3P file as plain texts, by a parser that follows no entity.

Elements are known by their names without namespace, since files use several; each is given by the
path from below the root, "Record1/Axes/CX/Increment".
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from filmstress.errors import ScanError
from filmstress.scans.reading.numerals import shown

ROOT = "ISO5436_2"
DATUM = "Record3/DataList/Datum"
# Metadata that is of no use here, and may be long.
_PASSED_OVER = ("Record2", "VendorSpecificID")
_MAX_DEPTH = 20
_MAX_ELEMENTS = 1000
_MAX_TEXT = 1000
_MAX_NAME = 100
# The parser makes objects of all attributes of a tag before it can be stopped.
_MAX_TAG_BYTES = 1 << 18


@dataclass(slots=True)
class Markup:
    """What stands in the XML.

    Attributes
    ----------
    texts : dict of str to str
        Text of every element, by path.
    datums : bytearray
        The points that are stored as text, one a line.
    """

    texts: dict[str, str] = field(default_factory=dict)
    datums: bytearray = field(default_factory=bytearray)


class _Forbidden(Exception):  # noqa: N818 - it leaves the parser as a message
    pass


def read_markup(data: bytes, where: str, member: str) -> Markup:
    """Read the XML of an X3P file.

    Raises
    ------
    ScanError
        If it is not well-formed or another document, has a document type or entities, or says
        one thing twice.
    """
    for start in range(0, len(data) - _MAX_TAG_BYTES, _MAX_TAG_BYTES):
        if b">" not in data[start : start + _MAX_TAG_BYTES]:
            raise ScanError(
                f"{shown(member)} in it has a tag or a text of more than {_MAX_TAG_BYTES} bytes",
                where=where,
                hint="this is no scan",
            )
    reader = _Reader()
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _no_doctype
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.text
    try:
        parser.Parse(data, True)
    except _Forbidden as error:
        line = parser.CurrentLineNumber
        raise ScanError(
            f"{shown(member)} in it, line {line}: {error}", where=where, hint="export it again"
        ) from None
    except (expat.ExpatError, ValueError, LookupError) as error:  # the others: an odd encoding
        raise ScanError(
            f"{shown(member)} in it is no well-formed XML ({error})",
            where=where,
            hint="copy or export the scan again",
        ) from error
    return reader.markup


def _no_doctype(*_: object) -> None:
    raise _Forbidden("has a document type, and may define entities; X3P has none")


class _Reader:
    def __init__(self) -> None:
        self.markup = Markup()
        self._path: list[str] = []
        self._parts: list[str] = []
        self._length = 0

    def start(self, name: str, _: object) -> None:
        local = name.rpartition(" ")[2]
        if not self._path and local != ROOT:
            raise _Forbidden(f"begins with the element {shown(local)}; want {ROOT}")
        if len(local) > _MAX_NAME:
            raise _Forbidden(f"has an element with a name of more than {_MAX_NAME} characters")
        self._path.append(local)
        if len(self._path) > _MAX_DEPTH:
            raise _Forbidden(f"has elements nested more than {_MAX_DEPTH} deep")
        self._parts.clear()
        self._length = 0

    def text(self, text: str) -> None:
        if len(self._path) > 1 and self._path[1] in _PASSED_OVER:
            return
        self._length += len(text)
        if self._length > _MAX_TEXT and text.strip():
            raise _Forbidden(f"has a text of more than {_MAX_TEXT} characters")
        self._parts.append(text)

    def end(self, _: str) -> None:
        path = "/".join(self._path[1:])
        text = "".join(self._parts).strip()
        passed_over = len(self._path) > 1 and self._path[1] in _PASSED_OVER
        self._path.pop()
        self._parts.clear()
        if path == DATUM:
            self.markup.datums += text.encode().replace(b"\n", b" ") + b"\n"
        elif path and not passed_over:
            texts = self.markup.texts
            if path in texts:
                raise _Forbidden(f"has {path} twice")
            if len(texts) >= _MAX_ELEMENTS:
                raise _Forbidden(f"has more than {_MAX_ELEMENTS} elements besides the points")
            texts[path] = text
