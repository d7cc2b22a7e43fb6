"""X3P files whose description is wrong, or made to do harm: refused in words."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions as Options
from filmstress.scans.reading.map_file import holds_map, read_map
from filmstress.scans.reading.scan_file import check_head, read_scan
from tests.scans._x3p import (
    COUNT,
    HEIGHTS,
    ROTATION,
    edited,
    refusal,
    with_points,
    write_x3p,
)

CX = "<CX><AxisType>I</AxisType><DataType>D</DataType><Increment>1e-3</Increment>"
CZ = "<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>1</Increment>"
SIZE_X, LINK = "<SizeX>20</SizeX>", "<PointDataLink>bindata/data.bin"
DATUMS = tuple(map(repr, HEIGHTS.tolist()))


def increment(text: str, axis: str = CX) -> str:
    old = axis[axis.index("<Increment>") :]
    return edited((axis, axis.replace(old, f"<Increment>{text}</Increment>")))


def rotated(*elements: float | str) -> str:
    return edited(("</Axes>", ROTATION.format(*elements)))


DESCRIPTIONS = {
    # Numbers of the axes.
    "increment-nan": (increment("NaN"), "Record1/Axes/CX/Increment is 'NaN'; want a finite"),
    "increment-inf": (increment("INF"), "Record1/Axes/CX/Increment is 'INF'"),
    "increment-huge": (increment("1e999"), "Record1/Axes/CX/Increment is '1e999'"),
    "increment-zero": (increment("0"), "Record1/Axes/CX/Increment is '0'; want a number above"),
    "increment-negative": (increment("-1e-3"), "Record1/Axes/CX/Increment is '-1e-3'"),
    "increment-underscore": (increment("1_0"), "Record1/Axes/CX/Increment is '1_0'"),
    "increment-other-digits": (increment("١"), "Record1/Axes/CX/Increment"),
    "increment-comma": (increment("0,001"), "Record1/Axes/CX/Increment is '0,001'"),
    "increment-hex": (increment("0x1p-10"), "Record1/Axes/CX/Increment"),
    "increment-missing": (
        edited((CX, CX[: CX.index("<Increment>")])), "Record1/Axes/CX/Increment is missing"),
    "increment-of-heights-negative": (
        increment("-1", CZ), "Record1/Axes/CZ/Increment is '-1'; want a number above zero"),
    "offset-nan": (edited(("<Offset>0<", "<Offset>NaN<")), "Record1/Axes/CX/Offset is 'NaN'"),
    "heights-not-stored": (
        edited((CZ, CZ.replace(">A<", ">I<"))), "Record1/Axes/CZ/AxisType is 'I'; want A"),
    "axis-type-unknown": (
        edited((CX, CX.replace(">I<", ">R<"))), "Record1/Axes/CX/AxisType is 'R'; want I or A"),
    "data-type-unknown": (
        edited((CZ, CZ.replace(">D<", ">Q<"))), "DataType is 'Q'; want I or L or F or D"),
    "data-type-missing": (
        edited((CZ, CZ.replace("<DataType>D</DataType>", ""))), "CZ/DataType is missing"),
    # Rotations: about x or y by a half turn, a mirror, no rotation at all.
    "half-turn-about-x": (rotated(1, 0, 0, 0, -1, 0, 0, 0, -1), "change the sign of the stress"),
    "half-turn-about-y": (rotated(-1, 0, 0, 0, 1, 0, 0, 0, -1), "change the sign of the stress"),
    "tilt": (rotated(0.8, 0, 0.6, 0, 1, 0, -0.6, 0, 0.8), "not the identity or a turn about z"),
    "mirror": (rotated(-1, 0, 0, 0, 1, 0, 0, 0, 1), "not the identity or a turn about z"),
    "stretch": (rotated(2, 0, 0, 0, 2, 0, 0, 0, 1), "not the identity or a turn about z"),
    "rotation-nan": (rotated("NaN", 0, 0, 0, 1, 0, 0, 0, 1), "Rotation/r11 is 'NaN'"),
    "rotation-in-part": (edited(("</Axes>", "<Rotation><r11>1</r11></Rotation></Axes>")),
                         "Rotation/r12 is missing"),
    # Sizes.
    "size-zero": (edited((SIZE_X, "<SizeX>0</SizeX>")), "Record3/MatrixDimension/SizeX is '0'"),
    "size-negative": (edited((SIZE_X, "<SizeX>-20</SizeX>")), "SizeX is '-20'; want a whole"),
    "size-fraction": (edited((SIZE_X, "<SizeX>20.0</SizeX>")), "SizeX is '20.0'"),
    "size-long": (edited((SIZE_X, f"<SizeX>{'9' * 30}</SizeX>")), "SizeX is '999"),
    "size-missing": (edited((SIZE_X, "")), "SizeX is missing"),
    "product-huge": (edited((SIZE_X, "<SizeX>4294967296</SizeX>"),
                            ("<SizeZ>1<", "<SizeZ>4294967296<")), "claims 4294967296 x 1 x"),
    "product-too-large": (edited((SIZE_X, "<SizeX>50000001</SizeX>")), "claims 50000001 x 1 x 1"),
    "profile-of-rows": (edited((SIZE_X + "<SizeY>1<", "<SizeX>10</SizeX><SizeY>2<")),
                        "SizeY is '2'; want 1 for a profile"),
    "one-point-more": (edited((SIZE_X, "<SizeX>21</SizeX>")),
                       "'bindata/data.bin' has 160 bytes; 21 points want 168"),
    "one-point-fewer": (edited((SIZE_X, "<SizeX>19</SizeX>")), "19 points want 152"),
    "other-type": (edited((CZ, CZ.replace(">D<", ">F<"))), "20 points want 80"),
    # What it holds.
    "cloud": (edited((">PRF<", ">PCL<")), "holds a point cloud, which has no order"),
    "list": (edited(("<MatrixDimension>", "<ListDimension>20</ListDimension><MatrixDimension>")),
             "holds a point cloud"),
    "feature-unknown": (edited((">PRF<", ">XYZ<")), "FeatureType is 'XYZ'; want PRF or SUR or PCL"),
    "no-axes": ("<ISO5436_2 xmlns='x'><Record1><FeatureType>PRF</FeatureType></Record1>"
                "</ISO5436_2>", "SizeX is missing"),
    "no-points": (edited(("<DataLink>", "<Other>"), ("</DataLink>", "</Other>")),
                  "no points, or has them twice"),
    "points-twice": (edited(("</DataLink>", "</DataLink><DataList></DataList>")),
                     "no points, or has them twice"),
    # Markup.
    "entities": ('<!DOCTYPE a [<!ENTITY e "1e-3">]>' + edited().split("?>")[1], "document type"),
    "external": ('<!DOCTYPE a SYSTEM "file:///etc/passwd">' + edited().split("?>")[1],
                 "document type"),
    "bare-doctype": ("<!DOCTYPE ISO5436_2>" + edited().split("?>")[1], "document type"),
    "undefined-entity": (edited((SIZE_X, "<SizeX>&e;</SizeX>")), "no well-formed XML"),
    "not-xml": ("x,z\n1,2\n", "no well-formed XML"),
    "empty": ("", "no well-formed XML"),
    "cut": (edited()[:-30], "no well-formed XML"),
    "strange-encoding": (edited(("UTF-8", "klingon")), "no well-formed XML"),
    "other-root": ("<svg/>", "begins with the element 'svg'; want ISO5436_2"),
    "said-twice": (edited((SIZE_X, SIZE_X + "<SizeX>10</SizeX>")), "SizeX twice"),
    "deep": ("<ISO5436_2>" + "<a>" * 1000 + "</a>" * 1000 + "</ISO5436_2>", "nested more than"),
    "many": ("<ISO5436_2>" + "".join(f"<a{i}/>" for i in range(2000)) + "</ISO5436_2>",
             "more than 1000 elements"),
    "long-name": (f"<ISO5436_2><{'a' * 101}/></ISO5436_2>", "a name of more than 100 characters"),
    "long-text": (edited((SIZE_X, f"<SizeX>{'1' * 5000}</SizeX>")), "more than 1000 characters"),
    # Links.
    "link-up": (edited((LINK, "<PointDataLink>../data.bin")), "no file inside the archive"),
    "link-up-inside": (edited((LINK, "<PointDataLink>bindata/../data.bin")), "no file inside"),
    "link-up-backslash": (edited((LINK, "<PointDataLink>..\\data.bin")), "no file inside"),
    "link-absolute": (edited((LINK, "<PointDataLink>/etc/passwd")), "no file inside"),
    "link-drive": (edited((LINK, "<PointDataLink>C:\\data.bin")), "no file inside"),
    "link-scheme": (edited((LINK, "<PointDataLink>file:data.bin")), "no file inside"),
    "link-web": (edited((LINK, "<PointDataLink>http://x.invalid/data.bin")), "no file inside"),
    "link-empty": (edited((LINK, "<PointDataLink>")), "no file inside"),
    "link-nowhere": (edited((LINK, "<PointDataLink>other.bin")), "'other.bin', which is not in"),
    "checksum-link-up": (edited((">md5checksum.hex<", ">../md5checksum.hex<")),
                         "Record4/ChecksumFile names"),
    "marks-nowhere": (edited(("</DataLink>", "<ValidPointsLink>v</ValidPointsLink></DataLink>")),
                      "ValidPointsLink names 'v', which is not"),
    "marks-short": (edited(("</DataLink>", "<ValidPointsLink>md5checksum.hex</ValidPointsLink>"
                            "</DataLink>")), "20 points want 3"),
    # Points as text.
    "datum-word": (with_points(*DATUMS[:-1], "BAD"), "Datum number 20 is 'BAD'; want 1 number"),
    "datum-two": (with_points("1;2", *DATUMS[1:]), "Datum number 1 is '1;2'; want 1 number, or"),
    "datum-blank": (with_points("1 2", *DATUMS[2:]), "Datum number 1 is '1 2'"),
    "datum-lines": (with_points("1\n2", *DATUMS[2:]), "Datum number 1 is '1 2'"),
    "datum-underscore": (with_points("1_0", *DATUMS[1:]), "Datum number 1 is '1_0'"),
    "datum-comma": (with_points("0,5", *DATUMS[1:]), "Datum number 1 is '0,5'"),
    "datums-missing": (with_points(*DATUMS[1:]), "has 19 points in Record3/DataList; the matrix"),
    "datums-more": (with_points(*DATUMS, "1"), "has 21 points in Record3/DataList"),
    "datum-fraction": (with_points("1.5", *"2" * 19).replace(
        CZ, CZ.replace(">D<", ">I<")), "holds 1.5 for CZ; want whole numbers of 16 bits"),
    "datum-range": (with_points("40000", *"2" * 19).replace(
        CZ, CZ.replace(">D<", ">I<")), "holds 40000 for CZ"),
    # The common checks of a scan.
    "millimetres": (increment("1"), "the scan would be 19 m long (0 to 19 in m); want 1 mm"),
    "too-short": (increment("1e-9"), "the scan would be 19 nm long"),
    "too-high": (increment("1e5", CZ), "the heights would differ by"),
}  # fmt: skip


@pytest.mark.parametrize(("xml", "message"), DESCRIPTIONS.values(), ids=DESCRIPTIONS)
def test_description(xml, message, tmp_path: Path):
    path = write_x3p(tmp_path / "scan.x3p", xml)
    assert message in str(refusal(path))
    assert not holds_map(path)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (Options(columns="1,2"), "--columns was stated, but the file knows its own axes"),
        (Options(interval=1e-5), "--interval was stated"),
        (Options(position_unit="mm"), "gives the position in 'm', but 'mm' was stated"),
        (Options(height_unit="furlong"), "gives the height in 'm', but 'furlong' was stated"),
        (Options(trace="2"), "has no layer '2'; the file holds 1 layer"),
        (Options(trace="0"), "has no layer '0'"),
        (Options(trace="first"), "has no layer 'first'"),
    ],
)
def test_what_is_stated_must_fit(options, message, tmp_path: Path):
    path = write_x3p(tmp_path / "scan.x3p")
    assert message in str(refusal(path, options))
    with pytest.raises(ScanError, match="file"):
        check_head(path, options)
    fitting = Options(position_unit="m", height_unit="m", trace="1", decimal=",")
    assert len(read_scan(path, fitting).x) == COUNT


def test_several_layers_are_listed(tmp_path: Path):
    xml = edited((SIZE_X, "<SizeX>10</SizeX>"), ("<SizeZ>1<", "<SizeZ>2<"))
    path = write_x3p(tmp_path / "scan.x3p", xml)
    error = refusal(path)
    assert "holds 2 layers; want one" in error.message
    assert "--trace 2" in error.hint
    assert np.array_equal(read_scan(path, Options(trace="2")).z, HEIGHTS[10:])


def map_file(path: Path, *changes: tuple[str, str], z: np.ndarray = HEIGHTS) -> Path:
    sizes = (SIZE_X + "<SizeY>1<", "<SizeX>5</SizeX><SizeY>4<")
    steps = ("<DataType>D</DataType><Increment>1<", "<DataType>D</DataType><Increment>2e-3<")
    xml = edited((">PRF<", ">SUR<"), sizes, steps, *changes, data=z.tobytes())
    return write_x3p(path, xml, z.tobytes())


def test_a_map_is_no_scan_without_a_direction(tmp_path: Path):
    path = map_file(tmp_path / "map.x3p")
    check_head(path)
    assert holds_map(path)
    assert read_map(path).z.shape == (4, 5)
    error = refusal(path)
    assert "is a map of 5 x 4 heights" in error.message
    assert "--azimuth" in error.hint
    scan = write_x3p(tmp_path / "scan.x3p")
    with pytest.raises(ScanError, match="is a single scan; want a map"):
        read_map(scan)
    (tmp_path / "scan.csv").write_text("x [mm],z [um]\n1,2\n")
    for other in (tmp_path / "scan.csv", tmp_path / "none", tmp_path, "-"):
        assert not holds_map(other)
    with pytest.raises(ScanError, match="is a table of text; want a map"):
        read_map(tmp_path / "scan.csv")


@pytest.mark.parametrize(
    ("changes", "z", "message"),
    [
        ([("1e-3<", "1<")], HEIGHTS, "the map would be 4 m by 6 mm wide"),
        ([("1e-3<", "1e-7<"), ("2e-3<", "1e-7<")], HEIGHTS, "the map would be 400 nm by 300 nm"),
        ([], 1e6 * HEIGHTS, "the heights would differ by 1 m"),
        ([], HEIGHTS * np.where(np.arange(COUNT) < 9, 1.0, np.nan), "with 9 points measured"),
        ([("2e-3<", "-2e-3<")], HEIGHTS, "Record1/Axes/CY/Increment is '-2e-3'"),
        ([("<Increment>2e-3</Increment>", "")], HEIGHTS, "Record1/Axes/CY/Increment is missing"),
        ([("<SizeX>5<", "<SizeX>1<"), ("<SizeY>4<", "<SizeY>20<")], HEIGHTS, "two columns"),
    ],
)
def test_map_out_of_bounds(changes, z, message, tmp_path: Path):
    path = map_file(tmp_path / "map.x3p", *changes, z=z)
    with pytest.raises(ScanError) as caught:
        read_map(path)
    assert message in str(caught.value)


def test_a_map_of_scattered_positions(tmp_path: Path):
    points = np.zeros(COUNT, [("x", "<f8"), ("z", "<f8")])
    sizes = (SIZE_X + "<SizeY>1<", "<SizeX>5</SizeX><SizeY>4<")
    absolute = (CX, CX.replace(">I<", ">A<"))
    xml = edited((">PRF<", ">SUR<"), sizes, absolute, data=points.tobytes())
    path = write_x3p(tmp_path / "map.x3p", xml, points.tobytes())
    assert "want an even grid" in str(refusal(path))


def test_smd_is_refused_by_name(tmp_path: Path):
    path = tmp_path / "scan.SMD"
    path.write_text("ISO 5436 - 2000\nPRF\n")
    error = refusal(path)
    assert "SMD file (ISO 5436-2), which is not supported" in error.message
    assert "X3P, SDF or delimited text" in error.hint
