"""What is refused: every message names the place and what was found; the hint says how to mend."""

from __future__ import annotations

import pytest

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions as Options
from filmstress.scans.reading.scan_file import read_scan

UNITS = Options(position_unit="mm", height_unit="um")
HEAD = "x [mm],z [um]\n"


def rows(template: str = "{0},0.{0}", count: int = 12) -> str:
    return "".join(template.format(i) + "\n" for i in range(count))


def refusal(tmp_path, content: str | bytes, options: Options = Options()) -> ScanError:  # noqa: B008
    path = tmp_path / "scan.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(ScanError) as caught:
        read_scan(path, options)
    assert caught.value.where.startswith(str(path))
    return caught.value


# What a file leaves open: (content, options, message, part of the hint, line)
OPEN = [
    pytest.param("x [mm],z\n" + rows(), Options(), "the height column has no unit",
                 "state it with --height-unit um (or write it in the header: 'z [um]')", None,
                 id="no-height-unit"),
    pytest.param("x,z [um]\n" + rows(), Options(), "the position column has no unit",
                 "--position-unit mm", None, id="no-position-unit"),
    pytest.param(rows(), Options(), "the position column has no unit", "'x [mm]'", None,
                 id="no-header"),
    pytest.param("units: um\nx,z\n" + rows(), Options(), "the position column has no unit",
                 "--position-unit", None, id="one-unit-for-two-columns"),
    pytest.param("x [mm],z [A]\n" + rows(), Options(),
                 "the unit of the height column: 'A' is a current (A = ampere); want a length",
                 "angstrom", 1, id="A-is-no-length"),
    pytest.param("x [mm],z [V]\n" + rows(), Options(), "'V' is a voltage", "--height-unit", 1,
                 id="voltage"),
    pytest.param("x [MM],z [um]\n" + rows(), Options(), "'MM' is not a unit word", "'mm'", 1,
                 id="capitals"),
    pytest.param("x [mm],z [micron]\n" + rows(), Options(), "'micron'", "'um'", 1, id="micron"),
    pytest.param("height unit: micron\nx [mm],z\n" + rows(), Options(), "'micron'", "'um'", 1,
                 id="micron-in-a-setting"),
    pytest.param("a [mm],b [um],c [um]\n" + rows("{0},{0}.5,1"), Options(),
                 "the columns are 1 'a', 2 'b', 3 'c'", "--columns 1,3", None,
                 id="three-unknown-columns"),
    pytest.param("x [mm],raw height [um],levelled height [um]\n" + rows("{0},{0}.5,1"), Options(),
                 "holds 2 scans: 1 'raw height' (12 points, 11 mm); 2 'levelled height'",
                 "--trace 2", None, id="two-heights"),
    pytest.param("x [mm],y [mm],z [um]\n" + rows("{0},{0}.5,1"), Options(),
                 "cannot tell which columns", "--columns 1,3", None, id="two-positions"),
    pytest.param(rows("{0},{0}.5,1"), UNITS, "the columns are 1, 2, 3", "--columns 1,3", None,
                 id="three-without-names"),
    pytest.param(rows("{0}\t{0},2345"), UNITS, None, None, None, id="(control: decimal comma)"),
    pytest.param(rows("1{0}\t1,234"), UNITS, "'1,234' may be 1.234 or 1234",
                 "--decimal , or --decimal .", 1, id="decimal-or-thousands"),
    pytest.param(rows("1{0},5"), UNITS, "the comma in '10,5' may part two columns or be a decimal",
                 "--decimal . or --decimal ,", 1, id="delimiter-or-decimal"),
    pytest.param("Wafer 7\n" + rows("1{0},5"), UNITS, "the comma in '10,5' may part", "heads", 2,
                 id="a-title-does-not-settle-it"),
    pytest.param("x [mm];z [um]\n" + rows("{0};0,5") + "20;1.234\n", Options(),
                 "'1.234' may be 1234 or 1.234", "--decimal ,", 14, id="late-thousands"),
    pytest.param("z [um]\n" + rows("0.{0}"), Options(),
                 "holds heights only and no sampling interval", "--interval '0.5 um'", None,
                 id="no-interval"),
    pytest.param("time [s],z [um]\n" + rows("{0},0.{0}"), Options(),
                 "holds heights only and no sampling interval", "--interval", None,
                 id="time-is-no-position"),
    pytest.param("x [mm],z [um]\n" + rows("{0},5,1,5"), Options(),
                 "the header names 2 columns, but rows have 4 cells", "semicolons", 1,
                 id="decimal-commas-between-commas"),
    pytest.param("interval: 0.5\nz [um]\n" + rows("0.{0}"), Options(),
                 "the sampling interval '0.5' has no unit", "--position-unit um", 1,
                 id="interval-without-unit"),
    pytest.param("interval: 5 ms\nz [um]\n" + rows("0.{0}"), Options(),
                 "the unit of the sampling interval: 'ms'", "mm", 1, id="interval-in-time"),
    pytest.param("interval: 1 mm\nz [um]\n" + rows("0.{0}") + "\n" + rows("0.{0}"), Options(),
                 "a blank line between the heights: a missing point, or nothing?", "NaN", 15,
                 id="blank-line-among-heights"),
    pytest.param("x [mm]\n" + rows("0.{0}"), Options(interval=1e-3),
                 "has positions (x) but no heights", "--columns 1", None, id="positions-only"),
]  # fmt: skip


@pytest.mark.parametrize(("content", "options", "message", "hint", "line"), OPEN)
def test_what_a_file_leaves_open_is_asked_for(tmp_path, content, options, message, hint, line):
    if message is None:
        (tmp_path / "scan.csv").write_text(content)
        assert len(read_scan(tmp_path / "scan.csv", options).x) == 12
        return
    error = refusal(tmp_path, content, options)
    assert message in error.message
    assert hint in error.hint
    assert error.line == line


CONTRADICTIONS = [
    (HEAD + rows(), Options(height_unit="nm"),
     "the file gives the height in 'um', but 'nm' was stated", "--height-unit", 1),
    (HEAD + rows(), Options(position_unit="inch"),
     "the file gives the position in 'mm', but 'inch' was stated", "--position-unit", 1),
    ("x [mm],z [V]\n" + rows(), Options(height_unit="um"),
     "the file gives the height in 'V', but 'um' was stated", "leave --height-unit away", 1),
    ("z unit: nm\nx [mm],z [um]\n" + rows(), Options(),
     "the height column has two units, 'nm' and 'um' (line 2)", "mend", 1),
    (HEAD + rows(), Options(height_unit="microns"), "the height unit as stated: 'microns'", "'um'",
     None),
    (HEAD + rows(), Options(decimal=","),
     "'0.0' cannot be a number with the decimal mark ',' as stated", "--decimal .", 2),
    ("x;z\n" + rows("{0};0,5"), Options(decimal="."),
     "'0,5' cannot be a number with the decimal mark '.' as stated", "--decimal ,", 2),
    (rows("{0},5,1,5"), Options(decimal=","), "the comma parts the columns", "semicolons", 1),
    (HEAD + rows(), Options(decimal="x"), "'x' was stated as decimal mark; want '.' or ','", "",
     None),
    ("x;z\n" + rows("{0},5;0.5"), UNITS,
     "'0,5' has a decimal comma, but '0.5' in line 2 a decimal point", "one decimal mark", 2),
    (HEAD + rows(), Options(interval=1e-6), "the file has positions in x of its own",
     "leave --interval away, or read heights only with --columns 2", None),
    ("interval: 1 mm\nz [um]\n" + rows("0.{0}"), Options(interval=2e-3),
     "two sampling intervals, 0.001 m and 0.002 m as stated", "leave one", 1),
    ("z [um]\n" + rows("0.{0}"), Options(interval=-1.0), "the interval as stated is -1 m", "",
     None),
    (HEAD + rows(), Options(columns="x,w"), "no column is called 'w'; the columns are 1 'x', 2 'z'",
     "--columns 1,3", None),
    (HEAD + rows(), Options(columns="1,3"), "no column is called '3'", "--columns", None),
    (HEAD + rows(), Options(columns="1,0"), "no column is called '0'", "--columns", None),
    (HEAD + rows(), Options(columns="1,²"), "no column is called '²'", "--columns", None),
    (HEAD + rows(), Options(columns="x,1"), "name one column twice", "position column first", None),
    (HEAD + rows(), Options(columns="x,x"), "want a position and a height column", "1,3", None),
    (HEAD + rows(), Options(columns="x,,z"), "want a position and a height column", "1,3", None),
    (HEAD + rows(), Options(columns="1,2,3"), "want a position and a height column", "1,3", None),
    ("x [mm],z [um],z [um]\n" + rows("{0},1.5,2.5"), Options(columns="x,z"),
     "several columns are called 'z'", "by number", None),
    ("x [mm];z [um];s\n" + rows("{0};1.5;ok"), Options(columns="1,3"),
     "column '3' holds words, not numbers", "the columns are", 2),
]  # fmt: skip


@pytest.mark.parametrize(("content", "options", "message", "hint", "line"), CONTRADICTIONS)
def test_contradictions_are_errors_that_say_both(tmp_path, content, options, message, hint, line):
    error = refusal(tmp_path, content, options)
    assert message in error.message
    assert hint in error.hint
    assert error.line == line


BAD_ROWS = [
    ("5,abc", "'abc' is no number with the decimal mark '.'", 14, 2),
    ("20,1.2.3", "'1.2.3' is no number", 14, 2),
    ("20,1_0", "'1_0' is no number", 14, 2),
    ("20,٣", "'٣' is no number", 14, 2),
    ("20,0x10", "'0x10' is no number", 14, 2),
    ("20,1e400", "'1e400' is beyond the range of numbers", 14, 2),
    ("20,1,5", "3 cells where the rows before have 2", 14, None),
    ("20", "1 cell where the rows before have 2", 14, None),
    ("20;1", "'20;1' stands between rows of numbers (the next one is line 15)", 14, None),
    ("2O,1", "'2O,1' stands between rows of numbers", 14, 1),
    ("x [mm],z [um]", "'x [mm],z [um]' stands between rows of numbers", 14, 1),
    ("stage stopped", "'stage stopped' stands between rows of numbers", 14, None),
]


@pytest.mark.parametrize(("row", "message", "line", "column"), BAD_ROWS)
def test_a_bad_row_is_named(tmp_path, row, message, line, column):
    error = refusal(tmp_path, HEAD + rows() + row + "\n30,1.5\n31,1.5\n")
    assert message in error.message
    assert (error.line, error.column) == (line, column)
    assert f"line {line}" in str(error)


def test_a_last_row_cut_short_is_no_footer(tmp_path):
    error = refusal(tmp_path, HEAD + rows() + "13")
    assert "1 cell where the rows before have 2" in error.message
    assert "cut short" in error.hint


NO_SCAN = [
    (b"", "is empty"),
    (b"\n\n  \n", "has no rows of numbers"),
    (HEAD.encode(), "has no rows of numbers; it begins with 'x [mm],z [um]'"),
    (HEAD.encode() + b"1,2.5\n", "has 1 point; want 10 or more"),
    (HEAD.encode() + b"1,2.5\n2,\n3,\n", "has 1 point; 2 left out: no height (blank cell)"),
    (b"once upon a time\nthere was a wafer\n", "begins with 'once upon a time'"),
    (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "a picture (PNG), not a scan"),
    (b"PK\x03\x04" + bytes(100), "a zip archive or spreadsheet, not a scan"),
    (b"%PDF-1.7\n1 0 obj\n", "a PDF document, not a scan"),
    (b"<!DOCTYPE html><html>", "an HTML page, not a scan"),
    (HEAD.encode() + b"1,\x00\n" * 20, "is binary (it has NUL bytes)"),
    (bytes(range(256)) * 40, "is binary (it has NUL bytes)"),
    (b"\xff\xfe\x00\x00\x31\x00\x00\x00", "has no rows of numbers"),
    (b"\xff\xfe", "has no rows of numbers"),
    (b'"' * 1000, "has no rows of numbers"),
]


@pytest.mark.parametrize(("content", "message"), NO_SCAN)
def test_what_is_no_scan(tmp_path, content, message):
    assert message in refusal(tmp_path, content).message


IMPLAUSIBLE = [
    ("x [m],z [um]\n" + rows(), "the scan would be 11 m long (0 to 11 in m); want 1 mm to 1 m",
     "is the unit m right? mm would be plausible; mend it in the header", Options()),
    ("x,z\n" + rows(), "the scan would be 11 um long (0 to 11 in um)",
     "is the unit um right? mm would be plausible; see --position-unit",
     Options(position_unit="um", height_unit="um")),
    ("x [mm],z [mm]\n" + rows("{0},{0}1.5"),
     "the heights would differ by 110 mm (1.5 to 111.5 in mm); want 20 mm or less",
     "is the unit mm right? um or nm would be plausible", Options()),
    ("interval: 1 um\nz [um]\n" + rows("{0}"), "11 um long (an interval of 1 um)",
     "is the sampling interval right?", Options()),
    (HEAD + rows("5,{0}.5"), "the scan would be 0", "is the unit mm right?", Options()),
]  # fmt: skip


@pytest.mark.parametrize(("content", "message", "hint", "options"), IMPLAUSIBLE)
def test_implausible_sizes_ask_for_the_unit(tmp_path, content, message, hint, options):
    error = refusal(tmp_path, content, options)
    assert message in error.message
    assert hint in error.hint
