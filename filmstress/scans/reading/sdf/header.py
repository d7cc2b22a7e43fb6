"""The header of an SDF file: fields of a text or of a binary file, settled alike."""

from __future__ import annotations

import math
import re
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from filmstress.errors import ScanError
from filmstress.scans.reading.numerals import shown
from filmstress.scans.reading.points import MAX_POINTS

_TYPES = ("<u1", "<u2", "<u4", "<f4", "<i1", "<i2", "<i4", "<f8")
_NAMED_TYPES = {
    "UCHAR": 0, "UINTEGER": 1, "ULONGINT": 2, "FLOAT": 3, "CHAR": 4, "INTEGER": 5, "LONGINT": 6,
    "DOUBLE": 7,
}  # fmt: skip
_NONE = {"NULL": 0, "NONE": 0}
_NAMES = (
    "ManufacID", "CreateDate", "ModDate", "NumPoints", "NumProfiles", "Xscale", "Yscale", "Zscale",
    "Zresolution", "Compression", "DataType", "CheckType",
)  # fmt: skip
_LAYOUT = "<10s12s12s{}dddd3B"
_VERSION_BYTES = 8
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?", re.ASCII)
_COUNT = re.compile(r"\+?[0-9]{1,20}", re.ASCII)
_LINE = re.compile(rb"([^\r\n]*+)(?:\r\n|\n|\r)")
_VERSION = re.compile(r"[ab]([A-Z]+-V?[0-9]\.[0-9])", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class Rules:
    """How the versions of the format differ.

    Attributes
    ----------
    types : tuple of int
        Codes of the data types that there are.
    highest_is_missing : bool
        Whether the highest number of a type marks a missing point; else it is the lowest.
    informal : bool
        Whether text has comments after ";" and codes may be words.
    counts : str
        Layout of the two counts in a binary header.
    """

    types: tuple[int, ...]
    highest_is_missing: bool = False
    informal: bool = False
    counts: str = "HH"


_RULES = {
    "ISO-1.0": Rules((5, 6, 7)),
    "ISO-2.0": Rules((3, 4, 5, 6, 7), counts="II"),
    "BCR-1.0": Rules(tuple(range(8)), highest_is_missing=True, informal=True),
}
# Versions of others, which are read only as text, where fields are named.
_OTHERS = Rules(tuple(range(8)))


@dataclass(frozen=True, slots=True)
class Header:
    """What precedes the heights.

    Attributes
    ----------
    rules : Rules
        Of the version.
    columns, rows : int
        Points in a row, and rows.
    x_step, y_step : float
        Distances between them [m]; that of the rows means nothing where there is one.
    z_scale : float
        Height of a stored 1 [m].
    dtype : numpy dtype
        Of the stored numbers.
    start : int
        Byte at which they begin.
    notes : tuple of str
        What was taken for granted.
    """

    rules: Rules
    columns: int
    rows: int
    x_step: float
    y_step: float
    z_scale: float
    dtype: np.dtype[Any]
    start: int
    notes: tuple[str, ...]

    @property
    def count(self) -> int:
        """Heights that there must be."""
        return self.columns * self.rows


def is_binary(head: bytes) -> bool:
    """Whether the heights are stored as numbers of the machine."""
    return head[:1] in b"bB"


def read_binary_header(head: bytes, where: str) -> Header:
    """Read the header of a binary file.

    Raises
    ------
    ScanError
        Cut short, a version that is not known, a field that cannot be used.
    """
    version = head[1:_VERSION_BYTES].decode("latin-1").upper()
    if version not in _RULES:
        raise ScanError(
            f"is an SDF file of the version {shown(version)}; want one of {', '.join(_RULES)}",
            where=where,
            hint="export the scan as X3P or delimited text",
        )
    rules = _RULES[version]
    layout = struct.Struct(_LAYOUT.format(rules.counts))
    start = _VERSION_BYTES + layout.size
    if len(head) < start:
        raise ScanError(
            f"ends within its header, after {len(head)} of {start} bytes",
            where=where,
            hint="copy it again from where it was made",
        )
    values = layout.unpack_from(head, _VERSION_BYTES)
    fields = {
        name.lower(): repr(value)
        for name, value in zip(_NAMES, values, strict=True)
        if not isinstance(value, bytes)
    }
    return _settled(fields, rules, start, where, [])


def read_text_header(head: bytes, where: str) -> Header:
    """Read the header of a text file, as far as the line that holds only a star.

    Raises
    ------
    ScanError
        No such line, a field that is missing, stands there twice or cannot be used.
    """
    lines = _lines(head)
    version, _ = next(lines)
    match = _VERSION.match(version.removeprefix("\xef\xbb\xbf").strip())
    name = match[1].upper() if match else ""
    rules = _RULES.get(name, _OTHERS)
    notes = []
    if name not in _RULES:
        notes.append(f"version {name} is none of the standard's: read as ISO-1.0")
    fields: dict[str, str] = {}
    for number, (line, end) in enumerate(lines, start=2):
        text = (line.partition(";")[0] if rules.informal else line).strip()
        if text == "*":
            return _settled(fields, rules, end, where, notes)
        if not text:
            continue
        field, equals, value = text.partition("=")
        key = field.strip().lower()
        if not equals:
            raise ScanError(
                f"{shown(text)} is no field of a header; want 'Name = value'",
                where=where,
                hint="export the scan again",
                line=number,
            )
        if key in fields:
            raise ScanError(
                f"has {shown(field)} twice in its header",
                where=where,
                hint="export the scan again",
                line=number,
            )
        fields[key] = value.strip()
        if key not in map(str.lower, _NAMES):
            notes.append(f"header field {shown(field)} passed over")
    raise ScanError(
        "has no line with only a star (*) after its header",
        where=where,
        hint="copy or export the scan again",
    )


def _lines(head: bytes) -> Iterator[tuple[str, int]]:
    """Whole lines of a text, and where the next begins; any line end."""
    start = 0
    # One line from where the last ended: a search would begin anew at every byte of a long one.
    while match := _LINE.match(head, start):
        start = match.end()
        yield match[1].decode("latin-1"), start


def _settled(
    fields: Mapping[str, str], rules: Rules, start: int, where: str, notes: list[str]
) -> Header:
    reader = _Fields(fields, where)
    columns, rows = reader.count("NumPoints"), reader.count("NumProfiles")
    if columns * rows > MAX_POINTS:
        raise ScanError(
            f"claims {columns} x {rows} points; want {MAX_POINTS} or fewer in all",
            where=where,
            hint="thin the scan out; a few thousand points carry the curvature",
        )
    for name in ("Compression", "CheckType"):
        if reader.code(name, _NONE if rules.informal else {}) != 0:
            raise reader.refused(name, "0 (none)")
    code = reader.code("DataType", _NAMED_TYPES if rules.informal else {})
    if code not in rules.types:
        raise reader.refused("DataType", " or ".join(map(str, rules.types)))
    if rows > 1 and rules.highest_is_missing:
        notes.append("BCR-1.0 leaves open on which side the first row lies: taken as lowest y")
    return Header(
        rules=rules,
        columns=columns,
        rows=rows,
        x_step=reader.positive("Xscale"),
        y_step=reader.positive("Yscale") if rows > 1 else 0.0,
        z_scale=reader.positive("Zscale"),
        dtype=np.dtype(_TYPES[code]),
        start=start,
        notes=tuple(notes),
    )


class _Fields:
    def __init__(self, fields: Mapping[str, str], where: str) -> None:
        self._fields, self._where = fields, where

    def refused(self, name: str, want: str) -> ScanError:
        text = self._fields.get(name.lower())
        found = "is missing in its header" if text is None else f"is {shown(text)}"
        return ScanError(
            f"{name} {found}; want {want}", where=self._where, hint="export the scan again"
        )

    def count(self, name: str) -> int:
        text = self._fields.get(name.lower(), "")
        if not _COUNT.fullmatch(text) or int(text) < 1:
            raise self.refused(name, "a whole number from 1")
        return int(text)

    def positive(self, name: str) -> float:
        text = self._fields.get(name.lower(), "")
        if not _NUMBER.fullmatch(text) or not 0.0 < float(text) < math.inf:
            raise self.refused(name, "a number above zero")
        return float(text)

    def code(self, name: str, words: Mapping[str, int]) -> int:
        """A code, or what it is called; -1 where it is neither."""
        text = self._fields.get(name.lower(), "").upper()
        return int(text) if _COUNT.fullmatch(text) else words.get(text, -1)
