"""X3P files whose archive is damaged or made to do harm: refused in words, in little memory."""

from __future__ import annotations

import struct
import tracemalloc
import zipfile
from pathlib import Path

import numpy as np
import pytest

from filmstress.errors import ScanError
from filmstress.scans.reading.scan_file import read_scan
from tests.scans._x3p import HEIGHTS, edited, members, refusal, write_x3p, write_zip

SIZE_X = "<SizeX>20</SizeX>"

ARCHIVES = {
    "no-zip": (b"PK\x03\x04" + bytes(100), "a zip archive or spreadsheet, not a scan"),
    "wrong-points-sum": ({**members(), "bindata/data.bin": HEIGHTS[::-1].tobytes()},
                         "'bindata/data.bin' does not have the MD5 checksum stated"),
    "wrong-description-sum": ({**members(), "md5checksum.hex": b"0" * 32 + b" *main.xml"},
                              "'main.xml' does not have the MD5 checksum stated (", ),
    "no-description": ({"xl/workbook.xml": b"<x/>"}, "a zip archive or spreadsheet, not a scan"),
    "two-descriptions": ({"a/main.xml": b"x", "b/main.xml": b"x"}, "a zip archive or spreadsheet"),
    "deep-description": ({"a/b/main.xml": b"x"}, "a zip archive or spreadsheet"),
    "twice-points": ([*members().items(), ("bindata/data.bin", HEIGHTS.tobytes())],
                     "'bindata/data.bin' is in the archive 2 times"),
    "twice-description": ([*members().items(), ("main.xml", b"<x/>")], "is in the archive 2 times"),
    "many-members": ({**members(), **{f"{i}": b"" for i in range(1000)}},
                     "a zip archive of 1003 files; want 1000 or fewer"),
}  # fmt: skip


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize(("content", "message"), ARCHIVES.values(), ids=ARCHIVES)
def test_archive(content, message, tmp_path: Path):
    path = tmp_path / "scan.x3p"
    if isinstance(content, bytes):
        path.write_bytes(content)
    else:
        write_zip(path, content)
    assert message in str(refusal(path))


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_only_deflate(method, tmp_path: Path):
    path = write_zip(tmp_path / "scan.x3p", members(), method=method)
    assert "packed by a method other than deflate" in str(refusal(path))


def test_a_symbolic_link_is_not_followed(tmp_path: Path):
    path = tmp_path / "scan.x3p"
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members().items():
            info = zipfile.ZipInfo(name)
            if name.endswith(".bin"):
                info.external_attr, data = 0o120777 << 16, b"/etc/passwd"
            archive.writestr(info, data)
    assert "'bindata/data.bin' is a symbolic link" in str(refusal(path))


def test_an_encrypted_member(tmp_path: Path):
    path = write_x3p(tmp_path / "scan.x3p")
    raw = bytearray(path.read_bytes())
    entry = raw.index(b"PK\x01\x02", raw.index(b"PK\x01\x02") + 4)  # of the points
    raw[entry + 8] |= 1
    path.write_bytes(raw)
    assert "'bindata/data.bin' is encrypted" in str(refusal(path))


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_every_cut_is_noticed(method, tmp_path: Path):
    whole = write_zip(tmp_path / "whole.x3p", members(), method=method).read_bytes()
    path = tmp_path / "scan.x3p"
    for size in range(5, len(whole), 37):
        path.write_bytes(whole[:size])
        refusal(path)


@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_a_changed_byte_changes_no_height(method, tmp_path: Path):
    """Whatever byte is damaged, the heights are the same, or the file is refused or tells that
    it could not be verified."""
    whole = write_zip(tmp_path / "whole.x3p", members(), method=method).read_bytes()
    path = tmp_path / "scan.x3p"
    for place in range(0, len(whole), 3):
        raw = bytearray(whole)
        raw[place] ^= 0x15
        path.write_bytes(raw)
        try:
            scan = read_scan(path)
        except ScanError:
            continue
        assert np.array_equal(scan.z, HEIGHTS)


def test_points_without_md5_are_held_to_the_sum_of_the_archive(tmp_path: Path):
    xml = edited(("MD5ChecksumPointData", "Other"), ("/MD5ChecksumPointData", "/Other"))
    path = write_zip(tmp_path / "scan.x3p", members(xml), method=zipfile.ZIP_STORED)
    raw = path.read_bytes()
    assert len(read_scan(path).source.notes) == 1
    path.write_bytes(raw.replace(HEIGHTS[5:8].tobytes(), HEIGHTS[6:9].tobytes()))
    assert "does not have the checksum of the archive" in str(refusal(path))


def lie_about_size(path: Path, name: bytes, size: int) -> None:
    """State another inflated size of a member, in both of its headers."""
    raw = bytearray(path.read_bytes())
    for magic, offset, at_name in ((b"PK\x03\x04", 22, 30), (b"PK\x01\x02", 24, 46)):
        entry = raw.index(magic)
        while bytes(raw[entry + at_name : entry + at_name + len(name)]) != name:
            entry = raw.index(magic, entry + 4)
        struct.pack_into("<I", raw, entry + offset, size)
    path.write_bytes(raw)


def peak_of(path: Path) -> int:
    """Most memory that a refused reading takes [bytes]."""
    tracemalloc.start()
    try:
        refusal(path)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.fixture(scope="module")
def zeros() -> bytes:
    return bytes(128 << 20)


@pytest.mark.parametrize("member", ["main.xml", "bindata/data.bin", "md5checksum.hex"])
@pytest.mark.parametrize("claimed", [None, 160])
def test_a_bomb_is_not_inflated(member, claimed, zeros: bytes, tmp_path: Path):
    """128 MiB of zeros in an eighth of a mebibyte, said truly or not: less than 8 MiB are taken."""
    path = write_zip(tmp_path / "scan.x3p", {**members(), member: zeros})
    if claimed:
        lie_about_size(path, member.encode(), claimed)
    elif member == "md5checksum.hex":
        assert "not verified" in read_scan(path).source.notes[0]
        return
    assert path.stat().st_size < 1 << 20
    assert peak_of(path) < 8 << 20


def test_a_bomb_that_the_sizes_agree_to(zeros: bytes, tmp_path: Path):
    """A matrix that wants all of it: written numbers shrink tenfold, not a thousandfold."""
    xml = edited((SIZE_X, f"<SizeX>{len(zeros) // 8}</SizeX>"), data=zeros)
    path = write_x3p(tmp_path / "scan.x3p", xml, zeros)
    assert peak_of(path) < 8 << 20
    assert "grows so much" in str(refusal(path))


def test_a_stored_member_that_claims_more_than_there_is(tmp_path: Path):
    xml = edited((SIZE_X, "<SizeX>40000000</SizeX>"))
    path = write_zip(tmp_path / "scan.x3p", members(xml), method=zipfile.ZIP_STORED)
    lie_about_size(path, b"bindata/data.bin", 320_000_000)
    refusal(path)


def test_a_directory_without_end(tmp_path: Path):
    path = tmp_path / "scan.x3p"
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in members().items():
            archive.writestr(name, data)
        for number in range(20_000):
            archive.writestr(f"{number:060}", b"")
    assert peak_of(path) < 8 << 20
    assert "a directory of more than" in str(refusal(path))


@pytest.mark.parametrize("form", ['a{}="{}"', 'xmlns:a{}="{}"'])
def test_a_tag_without_end(form: str, tmp_path: Path):
    tag = " ".join(form.format(i, i) for i in range(100_000))
    path = write_x3p(tmp_path / "scan.x3p", edited(("<Record1>", f"<Record1 {tag}>")))
    assert peak_of(path) < 16 << 20
    assert "a tag or a text of more than" in str(refusal(path))


def test_entities_that_multiply(tmp_path: Path):
    laughs = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10 if i else "x"}">' for i in range(12))
    xml = f"<!DOCTYPE a [{laughs}]>" + edited(("1e-3", "&e11;")).split("?>")[1]
    assert peak_of(write_x3p(tmp_path / "scan.x3p", xml)) < 8 << 20
