"""SDF files as another program writes them (sdfio, a general library for ISO 25178-71), read here
to the last bit; and what is wrong in one, refused in words."""

from __future__ import annotations

import gzip
import struct
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
import sdfio

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions as Options
from filmstress.scans.reading import map_file
from filmstress.scans.reading.map_file import holds_map, read_map
from filmstress.scans.reading.scan_file import check_head, read_scan

STEP, COUNT = 5e-5, 200
FORMS = [
    (form, version, kind)
    for form in sdfio.FileFormat
    for version in sdfio.Revision
    for kind in version.rules.data_types
]
NAMES = [f"{form.name}-{version}-{kind.name}" for form, version, kind in FORMS]


def heights(*shape: int) -> np.ndarray:
    z = np.random.default_rng(5).uniform(1e-7, 1e-6, shape)  # unsigned numbers want them above zero
    z.flat[[3, 7, -2]] = np.nan
    return z


def write(path: Path, z: np.ndarray, form, version, kind) -> sdfio.SdfFile:
    metadata = sdfio.Metadata(revision=version, manufacturer_id="a maker", data_type=kind)
    sdfio.write(path, z, x_scale=STEP, y_scale=2 * STEP, format=form, metadata=metadata)
    return sdfio.read(path)


@pytest.mark.parametrize(("form", "version", "kind"), FORMS, ids=NAMES)
def test_profile(form, version, kind, tmp_path: Path):
    path = tmp_path / "scan"
    theirs = write(path, heights(1, COUNT), form, version, kind)
    check_head(path)
    assert not holds_map(path)
    scan, measured = read_scan(path), np.isfinite(theirs.data[0])
    assert np.array_equal(scan.x, theirs.x_axis[measured])
    assert np.array_equal(scan.z, theirs.data[0][measured])
    (left,) = scan.source.left_out
    assert (left.reason, left.count, left.first_line) == ("no height", 3, 4)
    assert (scan.source.rows, scan.source.notes) == (COUNT, ())


@pytest.mark.parametrize(("form", "version", "kind"), FORMS, ids=NAMES)
def test_map(form, version, kind, tmp_path: Path):
    path = tmp_path / "map.sdf"
    theirs = write(path, heights(30, 40), form, version, kind)
    assert holds_map(path)
    found = read_map(path)
    # The proposal leaves the direction of the rows open; sdfio takes the first as the highest.
    is_open = version is sdfio.Revision.BCR_1_0
    assert np.array_equal(found.z, theirs.data[::-1] if is_open else theirs.data, equal_nan=True)
    assert np.array_equal(found.x, theirs.x_axis)
    np.testing.assert_allclose(found.y, theirs.y_axis, rtol=1e-15)
    assert any("which side" in note for note in found.source.notes) is is_open
    with pytest.raises(ScanError, match="is a map of 40 x 30 heights"):
        read_scan(path)


HEADER = """aISO-1.0
ManufacID = a maker
CreateDate = 010120260000
ModDate = 010120260000
NumPoints = 12
NumProfiles = 1
Xscale = 1.0e-3
Yscale = 0
Zscale = 1e-9
Zresolution = -1
Compression = 0
DataType = 5
CheckType = 0
*
"""
NUMBERS = "1 2 3 4 5 6\n7 8 9 10 11 12\n"
WHOLE = HEADER + NUMBERS + "*\nremarks, 5 * 3 = 15\n*\n"


def text_file(path: Path, *changes: tuple[str, str]) -> Path:
    text = WHOLE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_bytes(text.encode("latin-1"))
    return path


@pytest.mark.parametrize("end", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize(
    "changes",
    [
        [],
        [("1 2 3", "1.\t2.0\n\n 3e0 ")],
        [("NumPoints = 12", "  numpoints=12  ")],
        [("remarks", "µ 1 2 3 *")],
        [("aISO-1.0", "aISO-1.0  ")],
        [("aISO-1.0", "AISO-1.0")],
        [("aISO-1.0", "\xef\xbb\xbfaISO-1.0")],
    ],
)
def test_ways_to_write_the_same(end, changes, tmp_path: Path):
    path = text_file(tmp_path / "scan.txt", *changes)
    path.write_bytes(path.read_bytes().replace(b"\n", end.encode()))
    scan = read_scan(path)
    assert np.array_equal(scan.z, np.arange(1.0, 13.0) * 1e-9)
    assert np.array_equal(scan.x, np.arange(12.0) * 1e-3)
    assert scan.source.notes == ()


def test_comments_and_words_of_the_proposal(tmp_path: Path):
    """EUR 15178 EN (1993): all after ";" on a line is a comment, and codes have names."""
    scan = read_scan(
        text_file(
            tmp_path / "scan.sdf",
            ("aISO-1.0", "aBCR-1.0 ; a proposal"),
            ("DataType = 5", "DataType = INTEGER ; two bytes"),
            ("Compression = 0", "; none\nCompression = NULL"),
            ("\n*\n", "\n* ; heights\n"),
            ("1 2 3", "1 2 ; 99 98\n3"),
            ("7 8 9", "32767 8 -32768"),
        )
    )
    assert np.array_equal(scan.z, np.array([1, 2, 3, 4, 5, 6, 8, -32768, 10, 11, 12]) * 1e-9)
    assert [(one.reason, one.count) for one in scan.source.left_out] == [("no height", 1)]


def test_a_place_without_a_height_keeps_its_place(tmp_path: Path):
    scan = read_scan(text_file(tmp_path / "scan.sdf", ("2 3", "BAD BAD")))
    assert np.array_equal(scan.x[:3], np.array([0.0, 3.0, 4.0]) * 1e-3)
    assert [(one.reason, one.count, one.first_line) for one in scan.source.left_out] == [
        ("no height", 2, 2)
    ]


def test_a_reserved_number_is_no_height(tmp_path: Path):
    """ISO 25178-71 keeps the lowest number of a type for points that were not measured; as a
    number in a text it is left out under a reason of its own."""
    scan = read_scan(text_file(tmp_path / "scan.sdf", ("2 3", "-32768 BAD")))
    assert [(one.reason, one.count, one.first_line) for one in scan.source.left_out] == [
        ("no height", 1, 3),
        ("a number that marks missing points in binary files", 1, 2),
    ]


def test_the_lowest_unsigned_number_is_a_height(tmp_path: Path):
    """Of numbers without a sign the lowest is 0, which reserves nothing."""
    scan = read_scan(
        text_file(
            tmp_path / "scan.sdf",
            ("aISO-1.0", "aXYZ-V1.0"),
            ("DataType = 5", "DataType = 1"),
            ("2 3", "0 BAD"),
        )
    )
    assert np.array_equal(scan.z[:3], np.array([1.0, 0.0, 4.0]) * 1e-9)
    assert [(one.reason, one.count) for one in scan.source.left_out] == [("no height", 1)]


def test_what_is_odd_is_noted(tmp_path: Path):
    scan = read_scan(text_file(tmp_path / "scan.sdf", ("*\nremarks, 5 * 3 = 15\n*\n", "")))
    assert scan.source.notes == (
        "no line with a star (*) after the heights: the last one may be cut short",
    )
    scan = read_scan(
        text_file(
            tmp_path / "scan.sdf", ("aISO-1.0", "aXYZ-V1.0"), ("CheckType", "Own = 5\nCheckType")
        )
    )
    assert scan.source.notes == (
        "version XYZ-V1.0 is none of the standard's: read as ISO-1.0",
        "header field 'Own' passed over",
    )


WRONG = {
    "points-twice": ([("NumPoints = 12", "NumPoints = 12\nNUMPOINTS = 12")],
                     "line 6: has 'NUMPOINTS' twice in its header"),
    "points-missing": ([("NumPoints = 12\n", "")], "NumPoints is missing in its header"),
    "points-zero": ([("NumPoints = 12", "NumPoints = 0")], "NumPoints is '0'; want a whole"),
    "points-fraction": ([("NumPoints = 12", "NumPoints = 12.0")], "NumPoints is '12.0'"),
    "points-underscore": ([("NumPoints = 12", "NumPoints = 1_2")], "NumPoints is '1_2'"),
    "points-long": ([("NumPoints = 12", f"NumPoints = {'9' * 50}")], "NumPoints is '999"),
    "points-huge": ([("NumPoints = 12", "NumPoints = 4000000000"),
                     ("NumProfiles = 1", "NumProfiles = 4000000000"), ("Yscale = 0", "Yscale = 1")],
                    "claims 4000000000 x 4000000000 points"),
    "step-zero": ([("Xscale = 1.0e-3", "Xscale = 0")], "Xscale is '0'; want a number above zero"),
    "step-negative": ([("Xscale = 1.0e-3", "Xscale = -1e-3")], "Xscale is '-1e-3'"),
    "step-nan": ([("Xscale = 1.0e-3", "Xscale = nan")], "Xscale is 'nan'"),
    "step-infinite": ([("Xscale = 1.0e-3", "Xscale = 1e999")], "Xscale is '1e999'"),
    "step-comma": ([("Xscale = 1.0e-3", "Xscale = 0,001")], "Xscale is '0,001'"),
    "step-in-micrometres": ([("Xscale = 1.0e-3", "Xscale = 1000")],
                            "the scan would be 11 km long (0 to 11000 in m)"),
    "scale-zero": ([("Zscale = 1e-9", "Zscale = 0")], "Zscale is '0'"),
    "scale-negative": ([("Zscale = 1e-9", "Zscale = -1e-9")], "Zscale is '-1e-9'"),
    "scale-missing": ([("Zscale = 1e-9\n", "")], "Zscale is missing"),
    "rows-without-step": ([("NumProfiles = 1", "NumProfiles = 2"), ("Points = 12", "Points = 6")],
                          "Yscale is '0'"),
    "compressed": ([("Compression = 0", "Compression = 1")], "Compression is '1'; want 0 (none)"),
    "checked": ([("CheckType = 0", "CheckType = 1")], "CheckType is '1'; want 0 (none)"),
    "word-outside-the-proposal": ([("DataType = 5", "DataType = INTEGER")],
                                  "DataType is 'INTEGER'"),
    "type-of-another-version": ([("DataType = 5", "DataType = 1")],
                                "DataType is '1'; want 5 or 6 or 7"),
    "type-unknown": ([("DataType = 5", "DataType = 9")], "DataType is '9'"),
    "no-field": ([("Yscale = 0", "Yscale 0")], "line 8: 'Yscale 0' is no field of a header"),
    "no-star": ([("*\n1 2", "1 2")], "line 14: '1 2 3 4 5 6' is no field"),
    "cut": ([("*\n" + NUMBERS, ""), ("*\nremarks, 5 * 3 = 15\n*\n", "")],
            "no line with only a star"),
    "one-more": ([("12\n*", "12 13\n*")], "has 13 heights; its header says 12 x 1"),
    "one-fewer": ([(" 12\n*", "\n*")], "has 11 heights; its header says 12 x 1"),
    "none": ([(NUMBERS, "")], "has 0 heights"),
    "word": ([("2 3", "2 three")], "height number 3 is 'three'; want a number with a decimal"),
    "decimal-comma": ([("2 3", "2 3,5")], "height number 3 is '3,5'"),
    "underscore": ([("11 12", "11 1_2")], "height number 12 is '1_2'"),
    "hexadecimal": ([("2 3", "0x2 3")], "height number 2 is '0x2'"),
    "not-quite-bad": ([("2 3", "BADLY 3")], "height number 2 is 'BADLY'"),
    "negative-bad": ([("2 3", "-BAD 3")], "height number 2 is '-BAD'"),
    "nan": ([("2 3", "nan 3")], "height number 2 is 'nan'"),
    "infinity": ([("2 3", "inf 3")], "height number 2 is 'inf'"),
    "star-among-heights": ([("2 3", "2 * 3")], "height number 3 is '*'"),
    "semicolon": ([("2 3", "2;3")], "height number 2 is '2;3'"),
    "fraction": ([("2 3", "2.5 3")], "height number 2 is 2.5; DataType wants whole numbers"),
    "range": ([("2 3", "40000 3")], "height number 2 is 40000; DataType wants whole numbers"),
    "too-high": ([("Zscale = 1e-9", "Zscale = 1")], "the heights would differ by 11 m"),
}  # fmt: skip


@pytest.mark.parametrize(("changes", "message"), WRONG.values(), ids=WRONG)
def test_refused(changes, message, tmp_path: Path):
    path = text_file(tmp_path / "scan.sdf", *changes)
    with pytest.raises(ScanError) as caught:
        read_scan(path)
    assert caught.value.where.startswith(str(path))
    assert message in str(caught.value)
    assert caught.value.hint


def binary(**changes: float) -> bytes:
    values = {"points": 12, "rows": 1, "x": 1e-3, "y": 0.0, "z": 1e-9, "type": 5, "check": 0}
    value = values | changes
    counts = value["points"], value["rows"]
    scales = value["x"], value["y"], value["z"], -1.0
    rest = int(changes.get("compression", 0)), value["type"], value["check"]
    head = struct.pack(
        "<8s10s12s12sHHdddd3B", b"bISO-1.0", b"a maker", b"", b"0" * 12, *counts, *scales, *rest
    )
    assert len(head) == 81  # ISO 25178-71
    return head + np.arange(1, 13, dtype="<i2").tobytes()


def test_binary_made_by_hand(tmp_path: Path):
    path = tmp_path / "scan.sdf"
    path.write_bytes(binary())
    scan = read_scan(path)
    assert np.array_equal(scan.z, np.arange(1.0, 13.0) * 1e-9)
    assert scan.source.notes == ()


def test_what_stands_behind_binary_heights_is_told(tmp_path: Path):
    """Remarks may; so does what a byte too many among the heights has pushed there."""
    path = tmp_path / "scan.sdf"
    path.write_bytes(binary() + b"\r\nany remark")
    scan = read_scan(path)
    assert np.array_equal(scan.z, np.arange(1.0, 13.0) * 1e-9)
    assert scan.source.notes == ("12 bytes behind the heights passed over",)
    path.write_bytes(binary(points=11))
    assert read_scan(path).source.notes == ("2 bytes behind the heights passed over",)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (binary()[:70], "ends within its header, after 70 of 81 bytes"),
        (binary()[:-1], "has 23 bytes of heights; its header says 12 x 1 of 2 bytes, 24 in all"),
        (binary(points=60000, rows=60000, y=1.0), "claims 60000 x 60000 points"),
        (binary(points=7000, rows=7000, y=1.0), "7000 x 7000 of 2 bytes, 98000000 in all"),
        (binary(points=0), "NumPoints is '0'"),
        (binary(x=float("nan")), "Xscale is 'nan'"),
        (binary(x=float("inf")), "Xscale is 'inf'"),
        (binary(x=-1e-3), "Xscale is '-0.001'"),
        (binary(z=0.0), "Zscale is '0.0'"),
        (binary(z=-1e-9), "Zscale is '-1e-09'; want a number above zero"),
        (binary(compression=1), "Compression is '1'"),
        (binary(check=1), "CheckType is '1'"),
        (binary(type=3), "DataType is '3'; want 5 or 6 or 7"),
        (b"bISO-9.0" + binary()[8:], "SDF file of the version 'ISO-9.0'; want one of ISO-1.0"),
    ],
)
def test_binary_refused(content, message, tmp_path: Path):
    path = tmp_path / "scan.sdf"
    path.write_bytes(content)
    tracemalloc.start()
    try:
        for read in (read_scan, check_head):
            with pytest.raises(ScanError) as caught:
                read(path)
            assert message in str(caught.value)
            assert holds_map(path) is ("7000" in message)
        assert tracemalloc.get_traced_memory()[1] < 4 << 20
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize(
    "body", [b"1 " * (8 << 20), b"1" * (16 << 20), b"BAD " * (4 << 20), b" " * (16 << 20)]
)
def test_text_without_end_takes_little_memory(body, tmp_path: Path):
    path = tmp_path / "scan.sdf"
    path.write_bytes(HEADER.encode() + body)
    tracemalloc.start()
    try:
        with pytest.raises(ScanError):
            read_scan(path)
        # A mebibyte is read at a time; every word of it is an object for a moment.
        assert tracemalloc.get_traced_memory()[1] < 64 << 20
    finally:
        tracemalloc.stop()


def test_every_cut_of_a_text_is_noticed_or_noted(tmp_path: Path):
    path = tmp_path / "scan.sdf"
    end = WHOLE.index("12\n*") + 2
    for size in range(12, len(WHOLE)):
        path.write_text(WHOLE[:size])
        if size < end - 1:  # without the last digit there are twelve numbers still
            with pytest.raises(ScanError):
                read_scan(path)
        else:
            scan = read_scan(path)
            assert len(scan.z) == 12
            assert bool(scan.source.notes) is (size < WHOLE.index("*\nremarks") + 1)


def test_what_is_stated_must_fit(tmp_path: Path):
    path = text_file(tmp_path / "scan.sdf")
    for options in (Options(columns="1"), Options(position_unit="mm"), Options(trace="2")):
        with pytest.raises(ScanError, match="file"):
            read_scan(path, options)
    assert len(read_scan(path, Options(trace="1", height_unit="m")).z) == 12


def test_a_map_is_told_by_the_head_of_a_packed_file(tmp_path: Path, monkeypatch):
    """Also under a long comment; of packed text no more than that is inflated."""
    text = text_file(
        tmp_path / "map.sdf",
        ("aISO-1.0", "aBCR-1.0 ;" + " a remark" * 20),
        ("NumPoints = 12", "NumPoints = 6"),
        ("NumProfiles = 1", "NumProfiles = 2"),
        ("Yscale = 0", "Yscale = 1e-3"),
    )
    assert holds_map(text)
    (tmp_path / "map.gz").write_bytes(gzip.compress(text.read_bytes()))
    assert holds_map(tmp_path / "map.gz")
    packed = gzip.compress(b"x [mm],z [um]\n" + b"1.0,2.0\n" * 100_000)
    (tmp_path / "scan.gz").write_bytes(packed)
    (tmp_path / "cut.gz").write_bytes(packed[: len(packed) // 2])
    monkeypatch.setattr(map_file, "opened", None)  # passes over all of a file
    assert not holds_map(tmp_path / "scan.gz")
    assert not holds_map(tmp_path / "cut.gz")
