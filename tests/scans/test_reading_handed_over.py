"""Files as laboratories hand them over: encodings and line ends mixed, very fine and very coarse.

What is read is checked against ``float`` of the text, and against the ``csv`` module.
"""

from __future__ import annotations

import codecs
import csv
import io
import json

import numpy as np
import pytest

from filmstress.records.scan import LeftOut, ReadingOptions
from filmstress.scans.reading.scan_file import read_scan
from tests.cli._run import run

POINTS = 40
ROWS = [(f"{0.5 * i:.2f}", f"{(i % 7) * 0.25:.3f}") for i in range(POINTS)]
X = np.array([float(x) for x, _ in ROWS]) * 1e-3
Z = np.array([float(z) for _, z in ROWS]) * 1e-6


def table(delimiter: str = ",", end: str = "\n") -> str:
    return "".join(delimiter.join(row) + end for row in ROWS)


def assert_read(tmp_path, content: bytes, **options) -> tuple[str, ...]:
    path = tmp_path / "scan.csv"
    path.write_bytes(content)
    scan = read_scan(path, ReadingOptions(**options))
    np.testing.assert_array_equal(scan.x, X)
    np.testing.assert_array_equal(scan.z, Z)
    assert scan.source.left_out == ()
    return scan.source.notes


@pytest.mark.parametrize(
    "header",
    [
        "# Prüfer: Jürgen\n".encode("latin-1") + "x [mm],z [µm]\n".encode(),
        "# Prüfer: Jürgen\n".encode() + "x [mm],z [µm]\n".encode("latin-1"),
        "# Å, µ, ° and Ü\n".encode("latin-1") + "# Å, µ, ° and Ü\nx [mm],z [µm]\n".encode(),
        "# 25 °C\nx [mm],z [\u03bcm]\n".encode(),
        "# 25 °C\n".encode("cp1252") + "x [mm],z [\u03bcm]\n".encode(),
    ],
)
def test_two_encodings_in_one_header(tmp_path, header):
    assert_read(tmp_path, header + table().encode())


@pytest.mark.parametrize("footer", [b"", "# geprüft\n".encode("latin-1"), "# geprüft\n".encode()])
def test_an_encoding_that_shows_below_the_first_lines(tmp_path, footer):
    """The first lines are plain; a footer far below them is not."""
    rows = "".join(f"{i * 1e-3:.6f},{i % 7}.000\n" for i in range(3000))
    path = tmp_path / "scan.csv"
    path.write_bytes(("x [mm],z [um]\n" + rows).encode() + footer)
    scan = read_scan(path)
    assert len(scan.x) == 3000
    assert scan.source.left_out == ()


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", codecs.BOM_UTF8),
        ("utf-16-le", codecs.BOM_UTF16_LE),
        ("utf-16-be", codecs.BOM_UTF16_BE),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
        ("latin-1", b""),
        ("utf-8", b""),
    ],
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_marks_and_separator_lines(tmp_path, encoding, mark, end, delimiter):
    head = f"sep={delimiter}{end}x [mm]{delimiter}z [µm]{end}"
    assert_read(tmp_path, mark + (head + table(delimiter, end)).encode(encoding))


@pytest.mark.parametrize("header_end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("ends", [("\n", "\r\n"), ("\r\n", "\r"), ("\r", "\n"), ("\r\n", "\n")])
def test_line_ends_of_two_kinds(tmp_path, header_end, ends):
    head = f"# from two programs{header_end}x [mm],z [um]{header_end}"
    text = head + "".join(",".join(row) + ends[i % 2] for i, row in enumerate(ROWS))
    assert_read(tmp_path, text.encode())
    halves = head + "".join(",".join(row) + ends[i >= 20] for i, row in enumerate(ROWS))
    assert_read(tmp_path, halves.encode())


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("quoting", [csv.QUOTE_ALL, csv.QUOTE_MINIMAL, csv.QUOTE_NONNUMERIC])
@pytest.mark.parametrize("comma", [False, True])
def test_what_the_csv_module_writes(tmp_path, delimiter, quoting, comma):
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, quoting=quoting)
    writer.writerow(["x [mm]", "z [um]"])
    writer.writerows([cell.replace(".", "," if comma else ".") for cell in row] for row in ROWS)
    assert_read(tmp_path, text.getvalue().encode())


@pytest.mark.parametrize(
    ("interval_um", "points"),
    [(0.01, 200_000), (0.01, 2_000_000), (0.1, 50_000), (1.0, 5000), (100.0, 11), (1000.0, 10)],
)
def test_sampling_intervals_from_nanometres_to_millimetres(tmp_path, interval_um, points):
    """Each height is what ``float`` reads."""
    cells = [f"{i * 37 % 1009}.25" for i in range(1009)]
    rows = "".join(f"{cell}\n" for cell in cells)
    text = (rows * (points // 1009 + 1)).encode()
    end = len(rows) * (points // 1009) + sum(len(cell) + 1 for cell in cells[: points % 1009])
    path = tmp_path / "scan.txt"
    path.write_bytes(f"interval: {interval_um:g} um\nheight [nm]\n".encode() + text[:end])
    scan = read_scan(path)
    assert scan.x.size == points
    once = np.array([float(cell) for cell in cells]) * 1e-9
    np.testing.assert_array_equal(scan.z, np.resize(once, points))
    np.testing.assert_allclose(
        scan.x[[0, 1, -1]], np.array([0, 1, points - 1]) * interval_um * 1e-6, rtol=1e-12
    )


LEFT_OUT = {
    "no height ('NaN')": ("7.25,NaN\n", "8.25,NaN\n"),
    "no height (blank cell)": ("7.25,\n", "8.25,\n"),
    "no position ('bad')": ("bad,1.0\n",),
    "no values ('***', '-')": ("-,***\n",),
    "blank cells only": (",\n", ",\n", ",\n"),
    "same position as another row; their heights were averaged": ("9.5,0.0\n",),
}


def test_every_line_left_out_is_counted_by_its_reason(tmp_path):
    """In JSON, as words and in the table: why, how many, and the first one's line."""
    rows = table().splitlines(keepends=True)
    content, wanted = "40\nx [mm],z [um]\n" + "".join(rows[:20]), {}
    line = 23
    for reason, lines in LEFT_OUT.items():
        wanted[reason] = (len(lines), line)
        content += "".join(lines)
        line += len(lines)
    content += "".join(rows[20:]) + "checked by hand\nend of file\n"
    wanted["words after the last row"] = (2, line + 20)
    wanted["numbers above the table"] = (1, 1)
    path = tmp_path / "scan.csv"
    path.write_text(content)
    scan = read_scan(path)
    assert set(scan.source.left_out) == {LeftOut(why, *told) for why, told in wanted.items()}
    (data,) = json.loads(run("inspect", str(path), "--json").out)["scans"]
    assert {one["reason"]: (one["count"], one["first_line"]) for one in data["left_out"]} == wanted
    words = " ".join(run("inspect", str(path)).out.split())
    (row,) = csv.DictReader(io.StringIO(run("inspect", str(path), "--csv").out))
    for reason, (count, first) in wanted.items():
        assert f"{count} row{'s' if count > 1 else ''} left out: {reason}" in words
        assert f"{count} {reason} (first in line {first})" in row["left_out"]
        assert f"(first in line {first})" in words
    assert int(row["rows"]) == scan.source.rows
