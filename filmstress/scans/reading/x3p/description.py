"""What an X3P file says of its points: axes, sizes, where they are stored."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from filmstress.errors import ScanError
from filmstress.scans.reading.numerals import shown
from filmstress.scans.reading.points import MAX_POINTS

_AXES = "Record1/Axes"
_TYPES = {"I": "<i2", "L": "<i4", "F": "<f4", "D": "<f8"}
# As xsd:double, without NaN and INF; Python's own float takes 1_0 and other scripts' digits.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?", re.ASCII)
_COUNT = re.compile(r"\+?[0-9]{1,20}", re.ASCII)
_DIGEST = re.compile(r"[0-9a-fA-F]{32}", re.ASCII)
_ROTATION_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis.

    Attributes
    ----------
    name : str
        "CX", "CY" or "CZ".
    dtype : numpy dtype or None
        Of the numbers that are stored; None where they follow from the index.
    increment, offset : float
        Coordinate = offset + increment times the stored number, or the index [m].
    """

    name: str
    dtype: np.dtype[Any] | None
    increment: float
    offset: float


@dataclass(frozen=True, slots=True)
class Stored:
    """A binary file in the archive: its link, and its MD5 sum where one is stated."""

    link: str
    element: str
    md5: str | None


@dataclass(frozen=True, slots=True)
class Description:
    """What the XML says.

    Attributes
    ----------
    axes : tuple of Axis
        x, y and z.
    columns, rows, layers : int
        Sizes of the matrix; a profile has one row.
    points, valid : Stored or None
        Files of the points, and of the marks of those that were measured; without the first, the
        points stand in the XML.
    notes : tuple of str
        What was taken for granted.
    """

    axes: tuple[Axis, Axis, Axis]
    columns: int
    rows: int
    layers: int
    points: Stored | None
    valid: Stored | None
    notes: tuple[str, ...]


def describe(texts: Mapping[str, str], where: str) -> Description:
    """Settle what the texts of the XML say.

    Raises
    ------
    ScanError
        With the element, what it says and what is wanted.
    """
    reader = _Reader(texts, where)
    feature = reader.one_of("Record1/FeatureType", ("PRF", "SUR", "PCL"))
    if feature == "PCL" or "Record3/ListDimension" in texts:
        raise ScanError(
            "holds a point cloud, which has no order",
            where=where,
            hint="export the scan as a profile (PRF) or a surface (SUR)",
        )
    columns, rows, layers = (reader.size(axis) for axis in "XYZ")
    if math.prod((columns, rows, layers)) > MAX_POINTS:
        raise ScanError(
            f"claims {columns} x {rows} x {layers} points; want {MAX_POINTS} or fewer in all",
            where=where,
            hint="thin the scan out; a few thousand points carry the curvature",
        )
    if feature == "PRF" and rows > 1:
        raise reader.refused("Record3/MatrixDimension/SizeY", "1 for a profile (PRF)")
    notes = reader.rotation_notes()
    points = reader.stored("PointDataLink", "MD5ChecksumPointData")
    if (points is None) == ("Record3/DataList" not in texts):
        raise ScanError(
            "Record3 has no points, or has them twice; want one of DataLink and DataList",
            where=where,
            hint="export the scan again",
        )
    return Description(
        axes=(
            reader.axis("CX", binary=points is not None),
            reader.axis("CY", binary=points is not None),
            reader.axis("CZ", binary=points is not None),
        ),
        columns=columns,
        rows=rows,
        layers=layers,
        points=points,
        valid=reader.stored("ValidPointsLink", "MD5ChecksumValidPoints"),
        notes=notes,
    )


class _Reader:
    def __init__(self, texts: Mapping[str, str], where: str) -> None:
        self._texts, self._where = texts, where

    def refused(self, path: str, want: str) -> ScanError:
        text = self._texts.get(path)
        found = "is missing" if text is None else f"is {shown(text)}"
        return ScanError(
            f"{path} {found}; want {want}", where=self._where, hint="export the scan again"
        )

    def one_of(self, path: str, words: tuple[str, ...]) -> str:
        text = self._texts.get(path)
        if text not in words:
            raise self.refused(path, " or ".join(words))
        return text

    def number(self, path: str, default: float | None) -> float:
        text = self._texts.get(path)
        if text is None and default is not None:
            return default
        if text is None or not _NUMBER.fullmatch(text) or not math.isfinite(float(text)):
            raise self.refused(path, "a finite number")
        return float(text)

    def size(self, axis: str) -> int:
        path = f"Record3/MatrixDimension/Size{axis}"
        text = self._texts.get(path)
        if text is None or not _COUNT.fullmatch(text) or int(text) < 1:
            raise self.refused(path, "a whole number from 1")
        return int(text)

    def axis(self, name: str, *, binary: bool) -> Axis:
        path = f"{_AXES}/{name}"
        absolute = self.one_of(f"{path}/AxisType", ("I", "A")) == "A"
        if name == "CZ" and not absolute:
            raise self.refused(f"{path}/AxisType", "A: heights are stored one by one")
        # Where positions follow from it an increment is needed; a file without one means nothing.
        unused = name == "CY" and self._texts.get("Record3/MatrixDimension/SizeY") == "1"
        increment = self.number(f"{path}/Increment", 1.0 if absolute or unused else None)
        if increment <= 0.0 and not (unused and not absolute):
            raise self.refused(f"{path}/Increment", "a number above zero")
        dtype = None
        if absolute:
            # Points in XML are numbers in any case.
            type_path = f"{path}/DataType"
            letter = "D"
            if binary or type_path in self._texts:
                letter = self.one_of(type_path, tuple(_TYPES))
            dtype = np.dtype(_TYPES[letter])
        return Axis(name, dtype, increment, self.number(f"{path}/Offset", 0.0))

    def stored(self, link: str, md5: str) -> Stored | None:
        path = f"Record3/DataLink/{link}"
        if path not in self._texts:
            return None
        digest = self._texts.get(f"Record3/DataLink/{md5}", "")
        stated = digest.lower() if _DIGEST.fullmatch(digest) else None
        return Stored(self._texts[path], path, stated)

    def rotation_notes(self) -> tuple[str, ...]:
        """Refuse what would tip the heights; a turn about z leaves them as they are."""
        path = f"{_AXES}/Rotation"
        if path not in self._texts:
            return ()
        names = [f"{path}/r{row}{column}" for row in "123" for column in "123"]
        r = np.array([self.number(name, None) for name in names]).reshape(3, 3)
        near = _ROTATION_TOLERANCE
        proper = np.allclose(r @ r.T, np.eye(3), rtol=0.0, atol=near) and np.linalg.det(r) > 0.0
        if not proper or abs(r[2, 2] - 1.0) > near:
            raise ScanError(
                f"{path} is not the identity or a turn about z; it tips the heights, or turns "
                "them over, which would change the sign of the stress",
                where=self._where,
                hint="export the scan in the coordinates in which it was measured",
            )
        turn = math.degrees(math.atan2(float(r[1, 0]), float(r[0, 0])))
        if abs(turn) < 1e-4:
            return ()
        return (f"turned by {turn:.4g} deg about z in the file; positions are those before it",)
