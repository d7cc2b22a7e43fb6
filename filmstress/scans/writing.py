"""Scans as files that give the very same numbers when they are read again."""

from __future__ import annotations

import hashlib
import io
import zipfile

import numpy as np
from numpy.typing import NDArray

from filmstress.records.scan import Scan

_POINTS, _CHECKSUM = "bindata/data.bin", "md5checksum.hex"
# The same scan makes the same bytes, whenever and wherever it is written.
_TIME_STAMP = (1980, 1, 1, 0, 0, 0)
_UNIX, _FILE_MODE = 3, 0o100644 << 16

_STEP_DIGITS = (17, 15, 12, 9, 6, 3)

_XML = """\
<?xml version="1.0" encoding="UTF-8"?>
<p:ISO5436_2 xmlns:p="http://www.opengps.eu/2008/ISO5436_2">
  <Record1>
    <Revision>ISO25178-72:2017/DAM1</Revision>
    <FeatureType>PRF</FeatureType>
    <Axes>
      <CX>
        <AxisType>{x_kind}</AxisType>
        <DataType>D</DataType>
        <Increment>{x_step!r}</Increment>
        <Offset>{x_start!r}</Offset>
      </CX>
      <CY>
        <AxisType>I</AxisType>
        <DataType>D</DataType>
        <Increment>1.0</Increment>
        <Offset>0.0</Offset>
      </CY>
      <CZ>
        <AxisType>A</AxisType>
        <DataType>D</DataType>
        <Increment>1.0</Increment>
        <Offset>0.0</Offset>
      </CZ>
    </Axes>
  </Record1>
  <Record3>
    <MatrixDimension>
      <SizeX>{points}</SizeX>
      <SizeY>1</SizeY>
      <SizeZ>1</SizeZ>
    </MatrixDimension>
    <DataLink>
      <PointDataLink>{link}</PointDataLink>
      <MD5ChecksumPointData>{md5}</MD5ChecksumPointData>
    </DataLink>
  </Record3>
  <Record4>
    <ChecksumFile>{checksum}</ChecksumFile>
  </Record4>
</p:ISO5436_2>
"""


def csv_bytes(scan: Scan) -> bytes:
    """A scan as a table of text, in metres, with as many digits as give the same numbers again."""
    rows = zip(scan.x.tolist(), scan.z.tolist(), strict=True)
    lines = ["x [m],z [m]", *(f"{x!r},{z!r}" for x, z in rows)]
    return ("\n".join(lines) + "\n").encode()


def x3p_bytes(scan: Scan) -> bytes:
    """A scan as an X3P file: a profile in binary numbers.

    Notes
    -----
    Positions are written as a start and a step where these give the very same numbers, and
    one by one elsewhere.

    References
    ----------
    ISO 25178-72:2017 and Amd 1:2020.
    """
    start, step = float(scan.x[0]), _even_step(scan.x)
    if step is None:
        points = np.column_stack([scan.x, scan.z]).astype("<f8").tobytes()
    else:
        points = scan.z.astype("<f8").tobytes()
    description = _XML.format(
        x_kind="A" if step is None else "I",
        x_step=1.0 if step is None else step,
        x_start=0.0 if step is None else start,
        points=scan.x.size,
        link=_POINTS,
        md5=_md5(points),
        checksum=_CHECKSUM,
    ).encode()
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_STORED) as archive:
        for name, data in (
            ("main.xml", description),
            (_POINTS, points),
            (_CHECKSUM, f"{_md5(description)} *main.xml\n".encode()),
        ):
            info = zipfile.ZipInfo(name, _TIME_STAMP)
            info.create_system, info.external_attr = _UNIX, _FILE_MODE
            archive.writestr(info, data)
    return whole.getvalue()


def _even_step(x: NDArray[np.float64]) -> float | None:
    """The step with which positions from the first on come out to the last bit, if there is one."""
    index = np.arange(x.size, dtype=np.float64)
    mean = float((x[-1] - x[0]) / (x.size - 1))
    # The mean has lost digits to the start; a step that somebody chose has few.
    for digits in _STEP_DIGITS:
        step = float(f"{mean:.{digits}g}")
        if np.array_equal(index * step + x[0], x):
            return step
    return None


def _md5(data: bytes) -> str:
    return hashlib.md5(data, usedforsecurity=False).hexdigest()
