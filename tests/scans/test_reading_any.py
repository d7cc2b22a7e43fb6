"""Properties: any bytes give a scan or a ScanError; any layout of the same numbers one scan."""

from __future__ import annotations

import gzip
import math
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from filmstress.errors import ScanError
from filmstress.records.scan import ReadingOptions, Scan
from filmstress.scans.reading.scan_file import read_scan

ANY_OPTIONS = st.builds(
    ReadingOptions,
    position_unit=st.sampled_from([None, "mm", "um", "A", "", "furlong", "\0"]),
    height_unit=st.sampled_from([None, "um", "nm", "V", "1"]),
    decimal=st.sampled_from([None, ".", ",", ";"]),
    columns=st.sampled_from([None, "1", "1,2", "2,1", "x,z", "z", "", ",", "9,1", "1,1"]),
    interval=st.sampled_from([None, None, 1e-5, 0.0, math.nan, math.inf, -1.0]),
    trace=st.sampled_from([None, None, "1", "2", "x", "z", "", "0"]),
)


def read_bytes(content: bytes, options: ReadingOptions) -> Scan | None:
    """Scan of the bytes, or None where they are refused; nothing else may leave the reader."""
    handle, name = tempfile.mkstemp()
    try:
        os.write(handle, content)
        os.close(handle)
        scan = read_scan(name, options)
    except ScanError as error:
        scan, refusal = None, str(error)
    finally:
        Path(name).unlink()
    if scan is None:
        assert refusal.startswith(name)
        assert len(refusal) < 2000
        return None
    assert len(scan.x) == len(scan.z) >= 10
    assert np.isfinite(scan.x).all()
    assert np.isfinite(scan.z).all()
    assert (np.diff(scan.x) > 0).all()
    assert 1e-3 <= scan.length <= 1.0
    assert np.ptp(scan.z) <= 20e-3
    left = sum(one.count for one in scan.source.left_out if not one.reason.startswith(("w", "nu")))
    assert len(scan.x) + left == scan.source.rows
    return scan


@given(st.binary(max_size=3000), ANY_OPTIONS)
def test_any_bytes(content, options):
    read_bytes(content, options)


SCRAPS = st.sampled_from(
    ["0", "1", "2.5", "-3", "1,5", "1.234", "1,234", "1.234,5", "1e3", "1D2", "nan", "inf", "-",
     "x", "z", "x [mm]", "z [um]", "[mm]", "um", "interval", "unit", ":", "=", ",", ";", "\t", " ",
     "\n", "\n", "\r\n", "\r", '"', "#", "%", "//", "!", "\0", "\ufeff", "µ", "\u2028", "\x0c",
     "1e400", "1_0", "٣", "\u00a0", "\x1a", "/", "(", ")", "'"]
)  # fmt: skip
ROW = st.integers(0, 30).flatmap(
    lambda i: st.sampled_from([f"{i},{i}.5\n", f"{i};0,{i}\n", f"{i}\t{i}\n", f"{i}\n", f"{i},\n"])
)


@given(
    st.lists(st.one_of(SCRAPS, ROW, ROW), max_size=80).map("".join),
    ANY_OPTIONS,
    st.sampled_from(["utf-8", "utf-16", "utf-16-le", "utf-8-sig"]),
)
@settings(max_examples=400, deadline=None)
@example("1\u20282\n" * 20, ReadingOptions(), "utf-8")
def test_any_scraps_of_a_table(text, options, encoding):
    read_bytes(text.encode(encoding), options)


PLAIN = ("x [mm],z [um]\n" + "".join(f"{i}.25,{i % 7}.5\n" for i in range(30))).encode()
X, Z = (np.arange(30) + 0.25) * 1e-3, (np.arange(30) % 7 + 0.5) * 1e-6


@given(st.data())
@settings(max_examples=400, deadline=None)
def test_any_mutation_of_a_valid_file(data):
    content = bytearray(PLAIN)
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(content)))
        stop = min(len(content), start + data.draw(st.integers(0, 40)))
        content[start:stop] = data.draw(st.one_of(st.binary(max_size=6), st.just(content[:100])))
    read_bytes(bytes(content), ReadingOptions())
    read_bytes(gzip.compress(bytes(content))[: data.draw(st.integers(10, 400))], ReadingOptions())


@given(st.integers(1, 30), st.integers(0, 6), st.sampled_from('xyz?,;. -\t\n#"0µ'))
@settings(max_examples=400, deadline=None)
def test_one_wrong_character_never_changes_a_number_silently(row, place, sign):
    """A replaced character is refused, noted, or seen in the one number it stands in."""
    lines = PLAIN.decode().splitlines(keepends=True)
    place = min(place, len(lines[row]) - 2)
    lines[row] = lines[row][:place] + sign + lines[row][place + 1 :]
    scan = read_bytes("".join(lines).encode(), ReadingOptions())
    if scan is None:
        return
    same_x = np.isin(scan.x, X)
    others = ~np.isclose(scan.x, X[row - 1])
    if scan.source.left_out or scan.source.notes:
        return  # said
    assert np.count_nonzero(~same_x) <= 1
    expected = dict(zip(X.tolist(), Z.tolist(), strict=True))
    for x, z in zip(scan.x[others & same_x], scan.z[others & same_x], strict=True):
        assert expected[x] == z


@dataclass(frozen=True)
class Style:
    delimiter: str
    decimal: str
    end: str
    encoding: str
    head: str
    quote: str
    last: str
    form: str
    packed: bool


HEADS = {
    ",": ["x [mm],z [um]", "# x (mm), z (µm)", "x_mm,z_um", "x,z\nmm,um", "x unit: mm\nz unit: um"],
    ";": ["x [mm];z [um]", "Position / mm;Height / µm", "mm;um", "x;z\n[mm];[um]"],
    "\t": ["x [mm]\tz [um]", "position mm\theight um", "a b\nx\tz\nmm\tµm"],
    " ": ["x [mm] z [um]", "x unit = mm\nheight unit = um\n", "# x (mm) z (um)"],
    "  \t": ["x [mm]    z [um]", "X-Units: mm\nZ-Units: µm\nx z"],
}


@st.composite
def styles(draw) -> Style:
    delimiter = draw(st.sampled_from(sorted(HEADS)))
    quote = "" if delimiter.isspace() else draw(st.sampled_from(["", '"']))
    comma = delimiter != "," or quote
    return Style(
        delimiter=delimiter,
        decimal=draw(st.sampled_from([".", ","] if comma else ["."])),
        end=draw(st.sampled_from(["\n", "\r\n", "\r"])),
        encoding=draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"])),
        head=draw(st.sampled_from(HEADS[delimiter])),
        quote=quote,
        last=draw(st.sampled_from(["", delimiter])),
        form=draw(st.sampled_from([".17g", ".20f", ".17e", ".17E", "D"])),
        packed=draw(st.booleans()),
    )


def number(value: float, style: Style) -> str:
    text = f"{value:.17e}".replace("e", "D") if style.form == "D" else format(value, style.form)
    return style.quote + text.replace(".", style.decimal) + style.quote


def written(x: list[float], z: list[float], style: Style) -> bytes:
    rows = (
        number(a, style) + style.delimiter + number(b, style) + style.last
        for a, b in zip(x, z, strict=True)
    )
    text = style.end.join([*style.head.split("\n"), *rows, ""])
    content = text.encode(style.encoding)
    return gzip.compress(content) if style.packed else content


heights = st.floats(-5000.0, 5000.0, allow_subnormal=False)
points = st.lists(st.tuples(st.floats(0.01, 10.0), heights), min_size=10, max_size=40)


@given(points, st.floats(-200.0, 200.0), styles())
@settings(max_examples=300, deadline=None)
def test_any_layout_of_the_same_numbers_gives_the_same_scan(points, start, style):
    x = (start + 1.0 + np.cumsum([step for step, _ in points])).tolist()
    z = [height for _, height in points]
    if style.form == ".20f":  # what is written is what counts
        x, z = ([float(f"{value:.20f}") for value in values] for values in (x, z))
    if x[-1] - x[0] < 1.0:
        x[-1] += 1.0
    scan = read_bytes(written(x, z, style), ReadingOptions())
    assert scan is not None
    np.testing.assert_array_equal(scan.x, np.array(x) * 1e-3)
    np.testing.assert_array_equal(scan.z, np.array(z) * 1e-6)
    assert scan.source.left_out == ()
