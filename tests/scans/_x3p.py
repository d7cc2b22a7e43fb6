"""X3P files made by hand, so that every part of one can be wrong."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions as Options
from filmstress.scans.reading.scan_file import read_scan

COUNT = 20
HEIGHTS = np.linspace(0.0, 1e-6, COUNT)

XML = """<?xml version="1.0" encoding="UTF-8"?>
<p:ISO5436_2 xmlns:p="http://www.opengps.eu/2008/ISO5436_2">
<Record1><Revision>ISO5436 - 2000</Revision><FeatureType>PRF</FeatureType><Axes>
<CX><AxisType>I</AxisType><DataType>D</DataType><Increment>1e-3</Increment><Offset>0</Offset></CX>
<CY><AxisType>I</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0</Offset></CY>
<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0</Offset></CZ>
</Axes></Record1>
<Record3><MatrixDimension><SizeX>20</SizeX><SizeY>1</SizeY><SizeZ>1</SizeZ></MatrixDimension>
<DataLink><PointDataLink>bindata/data.bin</PointDataLink>
<MD5ChecksumPointData>{md5}</MD5ChecksumPointData></DataLink></Record3>
<Record4><ChecksumFile>md5checksum.hex</ChecksumFile></Record4>
</p:ISO5436_2>
"""
ROTATION = "<Rotation>" + "".join(f"<r{i}{j}>{{}}</r{i}{j}>" for i in "123" for j in "123")
ROTATION += "</Rotation></Axes>"


def md5_of(data: bytes) -> str:
    return hashlib.md5(data, usedforsecurity=False).hexdigest()


def edited(*changes: tuple[str, str], xml: str = XML, data: bytes | None = None) -> str:
    """The description with changes; each must be found."""
    text = xml.format(md5=md5_of(HEIGHTS.tobytes() if data is None else data))
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def members(xml: str | bytes | None = None, data: bytes | None = None) -> dict[str, bytes]:
    """The members of a sound file, or of one with another description or other points."""
    text = edited(data=data) if xml is None else xml
    main = text.encode() if isinstance(text, str) else text
    return {
        "main.xml": main,
        "bindata/data.bin": HEIGHTS.tobytes() if data is None else data,
        "md5checksum.hex": f"{md5_of(main)} *main.xml\n".encode(),
    }


def write_zip(
    path: Path,
    content: Mapping[str, bytes] | list[tuple[str, bytes]],
    *,
    method: int = zipfile.ZIP_DEFLATED,
) -> Path:
    """An archive of members; a list may hold a name twice."""
    pairs = content.items() if isinstance(content, Mapping) else content
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in pairs:
            archive.writestr(zipfile.ZipInfo(name), data, method)
    return path


def write_x3p(path: Path, xml: str | bytes | None = None, data: bytes | None = None) -> Path:
    """A whole X3P file."""
    return write_zip(path, members(xml, data))


def with_points(*datums: str, xml: str = XML) -> str:
    """A description that holds its points itself."""
    text = edited(xml=xml)
    start, end = text.index("<DataLink>"), text.index("</DataLink>") + len("</DataLink>")
    inner = "".join(f"<Datum>{datum}</Datum>" for datum in datums)
    return f"{text[:start]}<DataList>{inner}</DataList>{text[end:]}"


def refusal(path: Path, options: Options = Options()) -> ScanError:  # noqa: B008
    with pytest.raises(ScanError) as caught:
        read_scan(path, options)
    assert caught.value.where.startswith(str(path))
    assert caught.value.hint
    assert len(str(caught.value)) < 1000
    return caught.value
