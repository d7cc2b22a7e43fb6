"""X3P files as another program writes them (x3pio, a general library for ISO 25178-72), read here:
every kind of axis, number and storage, to the last bit."""

from __future__ import annotations

import gzip
import hashlib
import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
import x3pio

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions as Options
from filmstress.scans.reading.scan_file import check_head, holds_map, read_map, read_scan
from tests.scans._x3p import (
    COUNT,
    HEIGHTS,
    ROTATION,
    edited,
    members,
    with_points,
    write_x3p,
    write_zip,
)

STEP = 5e-5
RNG_SEED = 5
STORAGES = list(x3pio.DataStorage)
TYPES = list(x3pio.DataType)


def heights(*shape: int) -> np.ndarray:
    z = 1e-6 * np.random.default_rng(RNG_SEED).standard_normal(shape)
    z.flat[[3, 7, -2]] = np.nan
    return z


@pytest.mark.parametrize("storage", STORAGES, ids=lambda one: one.name)
@pytest.mark.parametrize("kind", TYPES, ids=lambda one: one.name)
def test_profile(kind, storage, tmp_path: Path):
    path = tmp_path / "scan"  # known by its content, whatever it is called
    x3pio.write(path, heights(200), x_scale=STEP, z_type=kind, storage=storage)
    check_head(path)
    assert not holds_map(path)
    scan, theirs = read_scan(path), x3pio.read(path).layers[0].z.ravel()
    measured = np.isfinite(theirs)
    assert np.array_equal(scan.x, (STEP * np.arange(200))[measured])
    assert np.array_equal(scan.z, theirs[measured])
    (left,) = scan.source.left_out
    assert (left.count, left.first_line, left.counted) == (3, 4, "point")
    assert left.words.startswith("3 points left out: ")
    assert (scan.source.rows, scan.source.position_unit) == (200, "m")
    assert scan.source.notes == ()


@pytest.mark.parametrize("storage", STORAGES, ids=lambda one: one.name)
@pytest.mark.parametrize("kind", TYPES, ids=lambda one: one.name)
def test_map_of_two_layers(kind, storage, tmp_path: Path):
    path = tmp_path / "map.x3p"
    x3pio.write(
        path, heights(2, 30, 40), x_scale=STEP, y_scale=2 * STEP, z_type=kind, storage=storage
    )
    assert holds_map(path)
    for layer in (0, 1):
        found = read_map(path, Options(trace=str(layer + 1)))
        assert np.array_equal(found.z, x3pio.read(path).layers[layer].z, equal_nan=True)
        assert np.array_equal(found.x, STEP * np.arange(40))
        assert np.array_equal(found.y, 2 * STEP * np.arange(30))
        assert sum(one.count for one in found.source.left_out) == int(np.isnan(found.z).sum())
        assert found.source.notes == (f"layer {layer + 1} of 2",)


def absolute(values: np.ndarray, kind: x3pio.DataType) -> x3pio.Axis:
    scale = x3pio.suggest_scale(values, kind)
    return x3pio.Axis(x3pio.AxisType.ABSOLUTE, kind, scale)


@pytest.mark.parametrize("storage", STORAGES, ids=lambda one: one.name)
@pytest.mark.parametrize("kind", TYPES, ids=lambda one: one.name)
@pytest.mark.parametrize("z_kind", TYPES, ids=lambda one: one.name)
def test_positions_stored_one_by_one(kind, z_kind, storage, tmp_path: Path):
    """Records of numbers of different sizes, packed."""
    x, z = STEP * np.arange(0.5, 200) ** 1.1, heights(200)
    header = x3pio.Header(x=absolute(x, kind), z=absolute(z, z_kind))
    layer = x3pio.ProfileLayer(z, x, header=header)
    x3pio.Profile([layer], storage=storage).save(tmp_path / "scan.x3p")
    scan, theirs = read_scan(tmp_path / "scan.x3p"), x3pio.read(tmp_path / "scan.x3p").layers[0]
    measured = np.isfinite(theirs.z)
    assert np.array_equal(scan.x, theirs.x[measured])
    assert np.array_equal(scan.z, theirs.z[measured])


def test_a_scan_at_an_angle_counts_from_its_first_point(tmp_path: Path):
    along = STEP * np.arange(200)
    points = np.column_stack([0.6 * along, 0.02 - 0.8 * along, 1e-6 * np.cos(along)])
    x3pio.Profile.from_points(points).save(tmp_path / "scan.x3p")
    scan = read_scan(tmp_path / "scan.x3p")
    np.testing.assert_allclose(scan.x, along, rtol=0.0, atol=1e-15)
    assert np.array_equal(scan.z, points[:, 2])
    assert "distances from the first point" in scan.source.notes[0]
    points[:, 1] += 0.01 * np.sin(300.0 * along)
    x3pio.Profile.from_points(points).save(tmp_path / "scan.x3p")
    with pytest.raises(ScanError, match="do not lie on one straight line"):
        read_scan(tmp_path / "scan.x3p")


def test_offsets_are_added_last_and_increments_multiply_floats(tmp_path: Path):
    """ISO 25178-72 Amd 1: coordinate = offset + increment times the stored number, or the index
    from 0; floats are no exception."""
    xml = edited(
        ("<Increment>1e-3</Increment><Offset>0</Offset>",
         "<Increment>1e-3</Increment><Offset>-.5E-2</Offset>"),
        ("<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0",
         "<CZ><AxisType>A</AxisType><DataType>D</DataType><Increment>+2.</Increment><Offset>1e-4"),
    )  # fmt: skip
    scan = read_scan(write_x3p(tmp_path / "scan.x3p", xml))
    assert np.array_equal(scan.x, np.arange(COUNT) * 1e-3 + -0.5e-2)
    assert np.array_equal(scan.z, HEIGHTS * 2.0 + 1e-4)


def test_what_the_first_edition_leaves_out_has_a_meaning(tmp_path: Path):
    """ISO 25178-72:2017: type and offset are optional; an absolute axis without a factor has 1."""
    xml = edited(
        ("<AxisType>I</AxisType><DataType>D</DataType><Increment>1e-3</Increment><Offset>0</Offset>",
         "<AxisType>I</AxisType><Increment>1e-3</Increment>"),
        ("<CY><AxisType>I</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0</Offset>",
         "<CY><AxisType>I</AxisType>"),
        ("<AxisType>A</AxisType><DataType>D</DataType><Increment>1</Increment><Offset>0</Offset>",
         "<AxisType>A</AxisType><DataType>D</DataType>"),
    )  # fmt: skip
    scan = read_scan(write_x3p(tmp_path / "scan.x3p", xml))
    assert np.array_equal(scan.z, HEIGHTS)


@pytest.mark.parametrize(
    ("turn", "told"),
    [
        ((1, 0, 0, 0, 1, 0, 0, 0, 1), False),
        ((0, -1, 0, 1, 0, 0, 0, 0, 1), True),
        ((0.6, -0.8, 0, 0.8, 0.6, 0, 0, 0, 1), True),
    ],
)
def test_a_turn_about_z_leaves_the_heights_alone(turn, told, tmp_path: Path):
    xml = edited(("</Axes>", ROTATION.format(*turn)))
    scan = read_scan(write_x3p(tmp_path / "scan.x3p", xml))
    assert np.array_equal(scan.z, HEIGHTS)
    assert any("about z" in note for note in scan.source.notes) is told


def without(name: str) -> dict[str, bytes]:
    content = members()
    del content[name]
    return content


@pytest.mark.parametrize(
    ("content", "note"),
    [
        (without("md5checksum.hex"), "main.xml has no checksum"),
        ({**members(), "md5checksum.hex": b"none"}, "main.xml has no checksum"),
        ({**members(), "md5checksum.hex": bytes(5000)}, "main.xml has no checksum"),
        (members(edited(("<ChecksumFile>md5checksum.hex</ChecksumFile>", ""))), None),
        (
            members(edited(("<MD5ChecksumPointData>", "<MD5ChecksumPointData>x"))),
            "the points have no checksum",
        ),
    ],
)
def test_what_is_not_verified_is_said(content, note, tmp_path: Path):
    scan = read_scan(write_zip(tmp_path / "scan.x3p", content))
    assert len(scan.source.notes) == (note is not None)
    if note:
        assert note in scan.source.notes[0]
        assert "not verified" in scan.source.notes[0]


XML = edited().encode()
HARMLESS = {
    "in-a-folder": {f"scan/{name}": data for name, data in members().items()}
    | {"__MACOSX/scan/main.xml": b"x", "scan/.DS_Store": b"x"},
    "bare-upper-digest": {
        **members(), "md5checksum.hex": members()["md5checksum.hex"][:32].upper()},
    "byte-order-mark": members(b"\xef\xbb\xbf" + XML),
    "utf-16": members(edited(("UTF-8", "UTF-16")).encode("utf-16")),
    "default-namespace": members(
        edited(("<p:ISO5436_2 xmlns:p", "<ISO5436_2 xmlns"), ("</p:", "</"))),
    "backslash-link": members(edited(("bindata/data.bin", "bindata\\data.bin"))),
    "vendor-files": members(edited(("</Record3>", "</Record3><Record2><Comment>"
                                    + 5000 * "long " + "</Comment></Record2>")))
    | {"vendor/notes.txt": b"anything", "../outside": b"x", "/abs": b"x"},
    "comments-and-cdata": members(
        edited(("<SizeX>20", "<!-- > --><SizeX><![CDATA[20]]>"))),
}  # fmt: skip


@pytest.mark.parametrize("content", HARMLESS.values(), ids=HARMLESS)
@pytest.mark.parametrize("method", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED])
def test_harmless_oddities(content, method, tmp_path: Path):
    scan = read_scan(write_zip(tmp_path / "scan.x3p", content, method=method))
    assert np.array_equal(scan.z, HEIGHTS)
    assert scan.source.notes == ()


def test_packed_and_piped_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    raw = write_x3p(tmp_path / "scan.x3p").read_bytes()
    (tmp_path / "scan.gz").write_bytes(gzip.compress(raw))
    assert np.array_equal(read_scan(tmp_path / "scan.gz").z, HEIGHTS)
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(raw)))
    scan = read_scan("-")
    assert np.array_equal(scan.z, HEIGHTS)
    assert scan.source.sha256 == hashlib.sha256(raw).hexdigest()


def test_points_not_measured_are_counted_by_reason(tmp_path: Path):
    z = HEIGHTS.copy()
    z[[2, 5, 6]] = np.nan, np.inf, -np.inf
    xml = edited(
        ("</DataLink>", "<ValidPointsLink>ok.bin</ValidPointsLink></DataLink>"), data=z.tobytes()
    )
    # One bit a point, the first lowest: points 0, 2 and 19 are not valid.
    content = members(xml, z.tobytes()) | {"ok.bin": bytes([0b11111010, 0xFF, 0b0111])}
    scan = read_scan(write_zip(tmp_path / "scan.x3p", content))
    assert [(one.reason, one.count, one.first_line) for one in scan.source.left_out] == [
        ("no height", 1, 3),
        ("infinite height", 2, 6),
        ("height marked as not valid", 2, 1),
    ]
    assert len(scan.z) + 5 == scan.source.rows == COUNT
    assert any("marks of valid points have no checksum" in note for note in scan.source.notes)


def test_points_as_text(tmp_path: Path):
    datums = [" 1.5e-6 ", "", "NaN", "-INF", *map(repr, HEIGHTS.tolist()[4:])]
    scan = read_scan(write_x3p(tmp_path / "scan.x3p", with_points(*datums)))
    assert np.array_equal(scan.z, [1.5e-6, *HEIGHTS[4:]])
    assert [(one.reason, one.count) for one in scan.source.left_out] == [
        ("no height", 2),
        ("infinite height", 1),
    ]


def test_a_profile_may_run_backwards_where_positions_are_stored(tmp_path: Path):
    x, z = STEP * np.arange(200.0)[::-1], heights(200)
    header = x3pio.Header(x=absolute(x, x3pio.DataType.FLOAT64), z=absolute(z, TYPES[-1]))
    x3pio.Profile([x3pio.ProfileLayer(z, x, header=header)]).save(tmp_path / "scan.x3p")
    scan = read_scan(tmp_path / "scan.x3p")
    assert np.array_equal(scan.z, z[::-1][np.isfinite(z[::-1])])
    assert scan.source.notes == ("positions ran backwards: rows put in order",)


def test_a_surface_of_one_row_is_a_profile(tmp_path: Path):
    scan = read_scan(write_x3p(tmp_path / "scan.x3p", edited((">PRF<", ">SUR<"))))
    assert np.array_equal(scan.z, HEIGHTS)
