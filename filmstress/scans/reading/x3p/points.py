"""The points of an X3P file: stored numbers to metres."""

from __future__ import annotations

import io
import math
import re
from array import array
from typing import Any
from zipfile import ZipInfo

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import ScanError
from filmstress.scans.reading.numerals import counted, shown
from filmstress.scans.reading.points import Floats, Mask
from filmstress.scans.reading.x3p.container import Archive, Bytes
from filmstress.scans.reading.x3p.description import Axis, Description, Stored
from filmstress.scans.reading.x3p.markup import DATUM

# As xsd:double writes it.
_NUMBER = rb" *(?:[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?|NaN|-?INF)"
_NO_SUM = "the {} have no checksum: that they are undamaged is not verified"


class Points:
    """Stored numbers, one array for each axis that has them, in the order of the file.

    Parameters
    ----------
    description : Description
        What there is.
    archive : Archive
        Where it is, if it is in binary files.
    datums : bytearray
        What is stored in the XML.
    """

    def __init__(self, description: Description, archive: Archive, datums: bytearray) -> None:
        self._description = description
        self._archive = archive
        self._datums = datums
        self._absolute = [axis for axis in description.axes if axis.dtype is not None]
        self.count = description.columns * description.rows * description.layers
        self.notes: list[str] = []

    def check(self) -> None:
        """Raise if the binary files are not there or have not the size that they should."""
        if (stored := self._description.points) is not None:
            self._member(stored, self.count * self._record.itemsize)
        if (stored := self._description.valid) is not None:
            self._member(stored, -(-self.count // 8))

    def read(self, layer: int) -> tuple[Floats | None, Floats | None, Floats]:
        """Coordinates x, y and z of a layer [m]; None for an axis that follows from the index."""
        size = self._description.columns * self._description.rows
        part = slice(layer * size, (layer + 1) * size)
        if (stored := self._description.points) is not None:
            data = self._bytes(stored, self.count * self._record.itemsize, "points")
            table = data.view(self._record)[part]
            found = {axis.name: table[axis.name] for axis in self._absolute}
        else:
            numbers = self._written()[part]
            found = {axis.name: numbers[:, i] for i, axis in enumerate(self._absolute)}
            for axis in self._absolute:
                self._check_whole(found[axis.name], axis)
        x, y, z = (
            _in_metres(found[axis.name], axis) if axis.name in found else None
            for axis in self._description.axes
        )
        assert z is not None  # the description refuses heights that are not stored
        return x, y, z

    def valid(self, layer: int) -> Mask | None:
        """Which points of a layer were measured, where the file says it apart from them."""
        stored = self._description.valid
        if stored is None:
            return None
        data = self._bytes(stored, -(-self.count // 8), "marks of valid points")
        # The standard leaves the order of the bits open; files have the first point lowest.
        marks = np.unpackbits(data, count=self.count, bitorder="little")
        size = self._description.columns * self._description.rows
        return marks[layer * size : (layer + 1) * size].view(np.bool_)

    @property
    def _record(self) -> np.dtype[np.void]:
        return np.dtype([(axis.name, axis.dtype) for axis in self._absolute])

    def _member(self, stored: Stored, size: int) -> ZipInfo:
        info = self._archive.member(stored.link, stored.element)
        if info is None:
            raise self._refused(
                f"{stored.element} names {shown(stored.link)}, which is not in the archive"
            )
        if info.file_size != size:
            raise self._refused(
                f"{shown(info.filename)} has {info.file_size} bytes; "
                f"{counted(self.count, 'point')} want {size}"
            )
        return info

    def _bytes(self, stored: Stored, size: int, what: str) -> Bytes:
        info = self._member(stored, size)
        data = self._archive.read(info, size, crc=stored.md5 is None)
        if stored.md5 is None:
            self.notes.append(_NO_SUM.format(what))
        else:
            self._archive.check_md5(data, stored.md5, info.filename)
        return data

    def _written(self) -> Floats:
        """Numbers in the XML, shape (points, absolute axes); NaN for those of an empty element."""
        width = len(self._absolute)
        pattern = re.compile(rb" *;".join([_NUMBER] * width) + rb" *")
        numbers: array[float] = array("d")
        blank = (math.nan,) * width
        for line in io.BytesIO(self._datums):
            text = line.rstrip(b"\n")
            if text and not pattern.fullmatch(text):
                raise self._refused(
                    f"{DATUM} number {len(numbers) // width + 1} is "
                    f"{shown(text.decode(errors='replace'))}; want {counted(width, 'number')}"
                    f"{' with semicolons between' if width > 1 else ''}, or nothing"
                )
            numbers.extend(map(float, text.split(b";")) if text else blank)
        if len(numbers) != width * self.count:
            raise self._refused(
                f"has {counted(len(numbers) // width, 'point')} in Record3/DataList; "
                f"the matrix wants {self.count}"
            )
        return np.frombuffer(numbers, np.float64).reshape(-1, width)

    def _check_whole(self, numbers: Floats, axis: Axis) -> None:
        """Numbers in the XML that are said to be integers must be some."""
        if axis.dtype is None or axis.dtype.kind != "i":
            return
        bounds = np.iinfo(axis.dtype)
        stated = numbers[~np.isnan(numbers)]
        wrong = (stated != np.rint(stated)) | (stated < bounds.min) | (stated > bounds.max)
        if wrong.any():
            raise self._refused(
                f"{DATUM} holds {stated[wrong][0]:.10g} for {axis.name}; want whole numbers of "
                f"{8 * axis.dtype.itemsize} bits"
            )

    def _refused(self, message: str) -> ScanError:
        return ScanError(message, where=self._archive.name, hint="copy or export the scan again")


def _in_metres(stored: NDArray[Any], axis: Axis) -> Floats:
    # An infinite product is left out as such.
    with np.errstate(over="ignore", invalid="ignore"):
        values: Floats = np.ascontiguousarray(stored, np.float64)
        if axis.increment != 1.0:
            values = values * axis.increment
        if axis.offset != 0.0:
            values = values + axis.offset
    return values
