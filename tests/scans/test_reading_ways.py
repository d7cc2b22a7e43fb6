"""Every way a laboratory writes a scan gives the floats that ``float`` makes of its numbers."""

from __future__ import annotations

import codecs

import numpy as np
import pytest

from filmstress.records.scan import LeftOut, ReadingOptions
from filmstress.scans.reading.scan_file import read_scan

# Positions in mm and heights in um, as digits; what they are is asked of float(), not of us.
X = ["-3.00", "-2.50", "-2.00", "-1.50", "-1.00", "-0.50", "0.00", "0.50", "1.00", "1.50", "2.00"]
Z = ["0.1", "-12.345", ".5", "7.", "1e-3", "+2.5E+1", "0", "-0.07", "3.14159", "12", "1234.5"]
MM, UM = 1e-3, 1e-6
NOTHING = ReadingOptions()


def table(head: str, delimiter: str, end: str = "\n", decimal: str = ".", last: str = "") -> str:
    rows = [delimiter.join(row).replace(".", decimal) + last for row in zip(X, Z, strict=True)]
    return end.join([*([head] if head else []), *rows, ""])


def read(tmp_path, content: str | bytes, options: ReadingOptions = NOTHING, name: str = "scan.csv"):
    path = tmp_path / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_scan(path, options)


def assert_same(scan, x_factor=MM, z_factor=UM) -> None:
    np.testing.assert_array_equal(scan.x, np.array([float(x) for x in X]) * x_factor)
    np.testing.assert_array_equal(scan.z, np.array([float(z) for z in Z]) * z_factor)


HEAD = "x [mm],z [um]"
QUOTED = '"x [mm]","z [um]"\n' + "".join(f'"{x}","{z}"\n' for x, z in zip(X, Z, strict=True))
FORTRAN = table("x [mm],z [um]", ",").replace("1e-3", "1.0D-03").replace("+2.5E+1", "0.25d2")


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(table(HEAD, ","), id="comma"),
        pytest.param(table("x [mm];z [um]", ";"), id="semicolon"),
        pytest.param(table("x [mm]\tz [um]", "\t"), id="tab"),
        pytest.param(table("x [mm] z [um]", " "), id="blank"),
        pytest.param(table("x [mm]   z [um]", "    "), id="blanks"),
        pytest.param(table("   x [mm]   z [um]", "  \t "), id="blanks-and-tabs"),
        pytest.param(table(HEAD, " , "), id="comma-in-blanks"),
        pytest.param(table("x [mm];z [um]", ";", decimal=","), id="semicolon-decimal-comma"),
        pytest.param(table("x [mm]\tz [um]", "\t", decimal=","), id="tab-decimal-comma"),
        pytest.param(table("x [mm] z [um]", " ", decimal=","), id="blank-decimal-comma"),
        pytest.param(QUOTED, id="quoted"),
        pytest.param(QUOTED.replace(".", ","), id="quoted-decimal-comma"),
        pytest.param(table(HEAD, ",", last=","), id="trailing-comma"),
        pytest.param(table("x [mm],z [um],", ",", last=","), id="trailing-comma-in-head-too"),
        pytest.param(table("x [mm];z [um]", ";", decimal=",", last=";"), id="trailing-semicolon"),
        pytest.param(table("x [mm]\tz [um]", "\t", last="\t"), id="trailing-tab"),
        pytest.param(table("x [mm] z [um]", " ", last="  "), id="trailing-blanks"),
        pytest.param(FORTRAN, id="exponent-D"),
        pytest.param(table(HEAD, ",").replace("-", "−"), id="typographic-minus"),
        pytest.param(table(HEAD, ",", end="\r\n"), id="CRLF"),
        pytest.param(table(HEAD, ",", end="\r"), id="CR"),
        pytest.param(table(HEAD, ",").rstrip(), id="no-line-end-at-the-end"),
        pytest.param(table(HEAD, ",") + "\n\n", id="blank-lines-at-the-end"),
        pytest.param("\n\n" + table(HEAD, ","), id="blank-lines-at-the-start"),
        pytest.param(table(HEAD, ",", end="\n\n"), id="a-blank-line-after-each"),
    ],
)  # fmt: skip
def test_delimiters_marks_and_line_ends(tmp_path, text) -> None:
    scan = read(tmp_path, text)
    assert_same(scan)
    assert scan.source.left_out == ()
    assert (scan.source.position_unit, scan.source.height_unit) == ("mm", "um")


HEADS = [
    "x [mm],z [um]",
    "x (mm),z (um)",
    "x / mm,z / um",
    "x/mm,z/µm",
    "x_mm,z_um",
    "x-mm,z.um",
    "Position mm,Height um",
    "Lateral distance (mm),Profile height (um)",
    "ScanPosition_mm,SurfaceHeight_um",
    "Scan position [mm],Displacement [um]",
    "X [mm],Y [um]",
    "Weg [mm],Messwert [um]",
    "[mm],[um]",
    "mm,um",
    "x [mm],z [µm]",
    "x [mm],z [μm]",
    '"x [mm]","z [um]"',
    '"x, mm","z, um"',
    "# x [mm], z [um]",
    "% x [mm], z [um]",
    "! x [mm], z [um]",
    "// x [mm], z [um]",
    "; x [mm], z [um]",
    "x,z\nmm,um",
    "x,z\n[mm],[um]",
    "x,z\n(mm),(um)",
    "# x,z\n# mm,um",
    "x,z\n-----,-----\n",
    "x unit: mm\nz unit: um",
    "x unit: mm\nz unit: um\nx,z",
    "Height unit = um\nPosition unit = mm",
    "X-Units: mm\nZ-Units: um\nanything,else",
    "x unit,mm\nheight unit,um",
    "# unit of x: mm\n# units of height: um",
    "position: mm\nheight: um",
    "units: mm, um\nx,z",
    "x unit:,mm,,\nheight unit:,um,,",
    '"x unit","mm"\n"z unit","um"',
    "sep=,\nx [mm],z [um]",
    "x [ mm ],z ( um )",
    "Height (raw) [um] is the second\nx [mm],z (raw) [um]",
    "x/mm (stage),z/um (raw)",
    "operator: somebody\npoints: 11\nwafer = 7\n\nx [mm],z [um]",
    "Wafer 7 from lot 12, centre line\n2024-05-01 10:00\nx [mm],z [um]",
]


@pytest.mark.parametrize("head", HEADS)
def test_units_wherever_they_are_written(tmp_path, head) -> None:
    if head.startswith("x,z\n---"):  # a ruler below the heads; units by option
        options = ReadingOptions(position_unit="mm", height_unit="um")
    else:
        options = NOTHING
    scan = read(tmp_path, table(head, ","), options)
    assert_same(scan)
    assert scan.source.left_out == ()


# Factors: international inch = 25.4 mm exactly (1959 agreement); mil = inch/1000 and microinch =
# inch/10^6; angstrom = 0.1 nm (NIST SP 811, appendix B).
@pytest.mark.parametrize(
    ("word", "factor"),
    [
        ("pm", 1e-12),
        ("nm", 1e-9),
        ("um", 1e-6),
        ("\u00b5m", 1e-6),
        ("\u03bcm", 1e-6),
        ("mm", 1e-3),
        ("\u00c5", 1e-10),
        ("\u212b", 1e-10),
        ("angstrom", 1e-10),
        ("kÅ", 1e-7),
        ("mil", 2.54e-5),
        ("uin", 2.54e-8),
        ("µin", 2.54e-8),
    ],
)
def test_height_units(tmp_path, word, factor) -> None:
    rows = "".join(f"{x},{z}\n" for x, z in zip(X, ["0", "1", "2"] * 4, strict=False))
    scan = read(tmp_path, f"x [inch],z [{word}]\n{rows}")
    np.testing.assert_array_equal(scan.x, np.array([float(x) for x in X]) * 0.0254)
    np.testing.assert_array_equal(scan.z, np.array([0.0, 1.0, 2.0] * 4)[:11] * factor)
    assert scan.source.height_unit == word


@pytest.mark.parametrize(
    ("encoding", "mark", "note"),
    [
        ("utf-8", codecs.BOM_UTF8, ()),
        ("utf-16-le", codecs.BOM_UTF16_LE, ("encoding UTF-16",)),
        ("utf-16-be", codecs.BOM_UTF16_BE, ("encoding UTF-16",)),
        ("utf-16-le", b"", ("encoding UTF-16",)),
        ("utf-16-be", b"", ("encoding UTF-16",)),
        ("latin-1", b"", ("encoding Latin-1",)),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("decimal", [".", ","])
def test_encodings(tmp_path, encoding, mark, note, end, decimal) -> None:
    text = table("x [mm];z [µm]", ";", end, decimal)
    scan = read(tmp_path, mark + text.encode(encoding))
    assert_same(scan)
    assert scan.source.height_unit == "µm"
    assert scan.source.notes[: len(note)] == note
    assert ("decimal comma, semicolon between cells" in scan.source.notes) == (decimal == ",")


def test_a_mark_before_a_file_without_header(tmp_path) -> None:
    options = ReadingOptions(position_unit="mm", height_unit="um")
    scan = read(tmp_path, codecs.BOM_UTF8 + table("", ",").encode(), options)
    assert_same(scan)
    assert scan.source.notes == (
        "columns 1 and 2 taken as position and height",
        "position unit mm as stated, not in the file",
        "height unit um as stated, not in the file",
    )


@pytest.mark.parametrize(
    ("rows", "factor"),
    [
        (lambda i: f"{i},{1000 * i + 234}.5", None),
        (lambda i: f"{i};{i + 1}.234,5", "."),
        (lambda i: f"{i}\t{i + 1},234.5", ","),
        (lambda i: f"{i}\t{i + 1}'234.5", "'"),
        (lambda i: f"{i};{i + 1}\u00a0234,5", "\u00a0"),
        (lambda i: f"{i} {i + 1}\u202f234,5", "\u202f"),
    ],
)
def test_thousands(tmp_path, rows, factor) -> None:
    units = ReadingOptions(position_unit="mm", height_unit="nm")
    scan = read(tmp_path, "".join(rows(i) + "\n" for i in range(12)), units)
    first = 234.5 if factor is None else 1234.5
    np.testing.assert_array_equal(scan.z, (first + 1000 * np.arange(12.0)) * 1e-9)


def test_stated_decimal_mark_settles_what_the_file_leaves_open(tmp_path) -> None:
    text = "".join(f"{i}\t{i + 1},234\n" for i in range(12))
    stated = ReadingOptions(position_unit="mm", height_unit="nm", decimal=",")
    np.testing.assert_array_equal(
        read(tmp_path, text, stated).z, np.array([float(f"{i + 1}.234") for i in range(12)]) * 1e-9
    )
    stated = ReadingOptions(position_unit="mm", height_unit="nm", decimal=".")
    np.testing.assert_array_equal(
        read(tmp_path, text, stated).z, (1234 + 1000 * np.arange(12.0)) * 1e-9
    )


def test_comma_that_parts_or_marks_is_settled_by_known_heads(tmp_path) -> None:
    rows = "".join(f"{i},{i % 3}5\n" for i in range(12))
    two = read(tmp_path, "x [mm],z [um]\n" + rows)
    np.testing.assert_array_equal(two.x, np.arange(12.0) * 1e-3)
    one = read(tmp_path, "sampling interval: 0,5 mm\nz [um]\n" + rows)
    np.testing.assert_array_equal(one.x, np.arange(12.0) * 0.5e-3)
    np.testing.assert_array_equal(one.z, [float(f"{i}.{i % 3}5") * 1e-6 for i in range(12)])


INTERVALS = [
    "sampling interval: 0.5 mm",
    "Sample spacing = 500 um",
    "point spacing 1: x\nstep size [mm]: 0.5",
    "# dx = 0.5 mm",
    "interval,0.5,mm",
    "X increment: 0.5mm",
]


def test_a_column_that_counts_is_no_position(tmp_path) -> None:
    rows = "".join(f"{i},{z}\n" for i, z in enumerate(Z))
    scan = read(tmp_path, "spacing: 0.5 mm\nindex,height [um]\n" + rows)
    np.testing.assert_array_equal(scan.x, np.arange(len(Z)) * 0.5e-3)
    assert scan.source.height_column == "height"


@pytest.mark.parametrize("line", INTERVALS)
def test_heights_only_with_an_interval_in_the_header(tmp_path, line) -> None:
    scan = read(tmp_path, f"{line}\nheight [um]\n" + "\n".join(Z))
    np.testing.assert_array_equal(scan.z, np.array([float(z) for z in Z]) * UM)
    np.testing.assert_allclose(scan.x, np.arange(len(Z)) * 0.5e-3, rtol=1e-15)
    assert scan.source.position_column == "stated interval"


def test_heights_only_with_a_stated_interval(tmp_path) -> None:
    scan = read(tmp_path, "height_um\n" + "\n".join(Z), ReadingOptions(interval=0.5e-3))
    np.testing.assert_array_equal(scan.x, np.arange(len(Z)) * 0.5e-3)
    column = ReadingOptions(interval=0.5e-3, columns="2", height_unit="um")
    np.testing.assert_array_equal(read(tmp_path, table("", ";"), column).z, scan.z)


def test_a_missing_height_keeps_its_place_where_the_interval_counts(tmp_path) -> None:
    heights = ["NaN", *Z[:4], "NaN", *Z[4:], "NaN"]
    scan = read(tmp_path, "step: 0.5 mm\nz [um]\n" + "\n".join(heights))
    places = [i for i, z in enumerate(heights) if z != "NaN"]
    np.testing.assert_array_equal(scan.x, np.array(places) * 0.5e-3)
    assert scan.source.left_out == (LeftOut("no values ('NaN')", 3, 3),)
    assert scan.source.rows == len(Z) + 3


@pytest.mark.parametrize(
    ("head", "columns", "order"),
    [
        ("z [um],x [mm]", None, "zx"),
        ("index,x [mm],z [um]", None, "ixz"),
        ("x [mm],time [s],z [um]", None, "xiz"),
        ("time [s],Position [mm],Raw [V],Height [um]", None, "ixiz"),
        ("x [mm],raw height [um],levelled height [um]", "x,levelled height", "xiz"),
        ("x [mm],raw height [um],levelled height [um]", "1,3", "xiz"),
        ("x [mm],height [um],height [um]", "1,3", "xiz"),
        ("A [mm],B [um],C [um]", "a , C [um]", "xiz"),
        ("y [mm],z [um]", None, "xz"),
        ("lateral displacement [mm],vertical displacement [um]", None, "xz"),
    ],
)
def test_which_column_is_which(tmp_path, head, columns, order) -> None:
    index = [str(i) for i in range(len(X))]
    columns_of = {"x": X, "z": Z, "i": index}
    rows = zip(*(columns_of[letter] for letter in order), strict=True)
    text = head + "\n" + "".join(",".join(row) + "\n" for row in rows)
    assert_same(read(tmp_path, text, ReadingOptions(columns=columns)))


def test_columns_of_words_are_passed_over(tmp_path) -> None:
    rows = "".join(f"2024-05-01 10:00:{i};{x};{z};ok\n" for i, (x, z) in enumerate(zip(X, Z)))  # noqa: B905
    scan = read(tmp_path, "time;x [mm];z [um];state\n" + rows)
    assert_same(scan)


@pytest.mark.parametrize("cell", ["", "NaN", "nan", "-nan(ind)", "N/A", "null", "--", "***", "inf"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_missing_values_are_counted(tmp_path, cell, delimiter) -> None:
    lines = table(f"x [mm]{delimiter}z [um]", delimiter).splitlines()
    lines.insert(3, delimiter.join(["-2.25", cell]))
    lines.insert(5, delimiter.join(["-1.75", cell]))
    lines.insert(8, delimiter.join([cell, "5.0"]))
    scan = read(tmp_path, "\n".join(lines))
    assert_same(scan)
    what = f"'{cell}'" if cell else "blank cell"
    assert scan.source.left_out == (
        LeftOut(f"no height ({what})", 2, 4),
        LeftOut(f"no position ({what})", 1, 9),
    )
    assert scan.source.rows == len(X) + 3


def test_what_else_is_left_out_is_counted(tmp_path) -> None:
    lines = ["11", "3 4 5", *table(HEAD, ",").splitlines(), ",", "end of data", "Mean,0.5"]
    scan = read(tmp_path, "\n".join(lines))
    assert_same(scan)
    assert scan.source.left_out == (
        LeftOut("numbers above the table", 2, 1),
        LeftOut("blank cells only", 1, 15),
        LeftOut("words after the last row", 2, 16),
    )


@pytest.mark.parametrize("mark", ["#", "%", "!", "//", ";"])
def test_comments_between_rows_are_noted(tmp_path, mark) -> None:
    lines = table(HEAD, ",").splitlines()
    lines.insert(4, f"{mark} stage paused")
    lines.insert(7, f"{mark}1,2")
    scan = read(tmp_path, "\n".join(lines))
    assert_same(scan)
    assert scan.source.notes == ("2 comment lines passed over below the header (first: line 5)",)


def test_dropouts_at_the_start(tmp_path) -> None:
    blank = "".join(f"{i / 100 - 60},\n" for i in range(5000))
    scan = read(tmp_path, HEAD + "\n" + blank + table("", ","))
    assert_same(scan)
    assert scan.source.left_out == (LeftOut("no height (blank cell)", 5000, 2),)


def test_options_may_repeat_what_the_file_says(tmp_path) -> None:
    options = ReadingOptions(position_unit="mm", height_unit="µm", decimal=".", columns="x,z")
    assert_same(read(tmp_path, table(HEAD, ","), options))


def test_a_word_that_is_no_unit_here_gives_way_to_what_is_stated(tmp_path) -> None:
    for word in ("micron", "smoothed"):
        scan = read(tmp_path, table(f"x [mm],z ({word})", ","), ReadingOptions(height_unit="um"))
        assert_same(scan)
    # A is the ampere here; many write it for the angstrom (common practice, no source).
    scan = read(tmp_path, table("x [mm],z [A]", ","), ReadingOptions(height_unit="angstrom"))
    assert_same(scan, z_factor=1e-10)


def test_provenance(tmp_path) -> None:
    source = read(tmp_path, table("# Position (mm), Height (um)", ",")).source
    assert source.path == str(tmp_path / "scan.csv")
    assert (source.position_column, source.height_column) == ("Position", "Height")
    assert (source.rows, source.left_out, source.notes) == (len(X), (), ())
