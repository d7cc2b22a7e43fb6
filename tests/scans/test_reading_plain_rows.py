"""Plain decimal numbers a block at a time: what ``float`` reads, to the last bit, or nothing."""

from __future__ import annotations

import io
import math
import struct
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading import plain_rows, table
from filmstress.scans.reading.plain_rows import read_columns, row_form
from filmstress.scans.reading.scan_file import read_scan


def read(text: str, *, delimiter: str = ",", decimal: str = ".", cells: int = 2) -> list | None:
    """Every column of a text, or None where its rows are not plain."""
    raw = text.encode()
    form = row_form(raw[: raw.find(b"\n") + 1], delimiter=delimiter, decimal=decimal, cells=cells)
    if form is None:
        return None
    return read_columns(io.BytesIO(raw), form, range(cells), text.count("\n") + 1)


def bits(values: object) -> list[bytes]:
    return [struct.pack("d", value) for value in values]  # type: ignore[attr-defined]


@st.composite
def number(draw: st.DrawFn) -> str:
    whole = draw(st.text("0123456789", min_size=1, max_size=8))
    decimals = draw(st.text("0123456789", max_size=15 - len(whole)))
    return draw(st.sampled_from(["", "-"])) + whole + "." + decimals


@st.composite
def with_exponent(draw: st.DrawFn) -> str:
    """A number whose power of ten, less its decimals, is at most the 22nd."""
    mantissa = draw(number())
    decimals = len(mantissa.partition(".")[2])
    power = draw(st.integers(decimals - 22, decimals + 22))
    width = draw(st.integers(1, 3))
    signs = ["-"] if power < 0 else ["", "+"]
    sign = draw(st.sampled_from(signs))
    plus = "" if mantissa.startswith("-") else draw(st.sampled_from(["", "+"]))
    return f"{plus}{mantissa}e{sign}{abs(power):0{width}}"


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(with_exponent(), with_exponent()), min_size=1, max_size=20),
    st.sampled_from([(",", "."), (";", ","), ("\t", "."), (None, ".")]),
    st.booleans(),
)
def test_numbers_with_exponents_are_what_float_reads(
    rows: list[tuple[str, str]], signs: tuple[str | None, str], capital: bool
) -> None:
    delimiter, decimal = signs
    lines = [[cell.replace(".", decimal) for cell in row] for row in rows]
    text = "".join((delimiter or " ").join(row) + "\n" for row in lines)
    columns = read(
        text.upper() if capital else text,
        delimiter=delimiter,  # type: ignore[arg-type]
        decimal=decimal,
    )
    assert columns is not None
    for index, column in enumerate(columns):
        assert bits(column) == bits(float(row[index]) for row in rows)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1), st.integers(0, 20))
def test_any_float_with_an_exponent_is_itself_or_left_to_others(
    values: list[float], digits: int
) -> None:
    cells = [f"{value:.{digits}e}" for value in values]
    columns = read("".join(f"{cell},1e0\n" for cell in cells))
    if columns is not None:
        assert bits(columns[0]) == bits(map(float, cells))


moderate = st.floats(1e-30, 1e30).flatmap(lambda size: st.sampled_from([size, -size, 0.0, -0.0]))
FORMS = ("r", ".7g", ".15g", ".17g", ".18e", ".3e", ".12f", ".0f", ".3f")


@settings(max_examples=500, deadline=None)
@given(
    st.lists(st.tuples(moderate, moderate), min_size=1, max_size=30),
    st.sampled_from(FORMS),
    st.sampled_from(FORMS),
    st.sampled_from(["\n", "\r\n"]),
)
def test_marks_and_exponents_may_come_and_go(
    rows: list[tuple[float, float]], first: str, second: str, end: str
) -> None:
    """As in files written with ``%g`` or all digits."""

    def written(value: float, form: str) -> str:
        return repr(value) if form == "r" else format(value, form)

    cells = [(written(a, first), written(b, second)) for a, b in [(0.5, 0.5), *rows]]
    columns = read("".join(",".join(row) + end for row in cells))
    whole = ("r", ".17g", ".18e")
    if first in whole and second in whole and all(abs(one) < 1e7 for row in rows for one in row):
        # These are what files are written in; they must not be left to others.
        assert columns is not None
    if columns is not None:
        for index, column in enumerate(columns):
            assert bits(column) == bits(float(row[index]) for row in cells)


@settings(max_examples=500, deadline=None)
@given(st.floats(1e-25, 1e25), st.integers(16, 19), st.integers(-2, 2))
def test_numbers_halfway_between_two_floats(value: float, digits: int, nudge: int) -> None:
    """The hardest to round: the middle of two floats, to 16 to 19 digits, and its neighbours.

    Digits of the middle by exact fractions; that Python rounds them correctly is David Gay's work.
    """
    middle = (Fraction(value) + Fraction(np.nextafter(value, np.inf))) / 2
    power = math.floor(math.log10(value)) - digits + 1
    whole = round(middle / Fraction(10) ** power) + nudge
    cell = f"{whole}e{power}" if whole < 10**8 else f"{str(whole)[0]}.{str(whole)[1:]}e"
    cell = cell if whole < 10**8 else f"{cell}{power + len(str(whole)) - 1}"
    columns = read(f"1e0,1e0\n{cell},1e0\n")
    if columns is not None:
        assert bits(columns[0][1:]) == bits([float(cell)])


def test_a_number_exactly_halfway_is_left_to_others() -> None:
    """2^53 + 1 lies in the middle of two floats."""
    assert read("90.07199254740993e14,1\n") is None
    assert read("90.07199254740992e14,1\n") is not None


@settings(max_examples=500, deadline=None)
@given(st.lists(st.text("0123456789.-,+e \n\r", max_size=30), min_size=1, max_size=4))
def test_what_is_read_is_never_something_else(lines: list[str]) -> None:
    text = "1.5,2.5\n" + "\n".join(lines) + "\n"
    columns = read(text)
    if columns is not None:
        wanted = [[float(cell) for cell in line.split(",")] for line in text.splitlines()]
        assert [bits(row) for row in zip(*columns, strict=True)] == [bits(row) for row in wanted]


@pytest.mark.parametrize(
    "row",
    [
        *("1.5,", ".,2.5", "1.5,-.", "1.5,2.5,", "1.5,2,5", "", "1.5 ,2.5", "1.5\r,1.5"),
        *("1.5,2.5e", "1.5,2.5e-", "1.5,2e5.5", "1.5,2.5e1e1", "1.5,2.5.5", "1.5,e5", "1.5,-e5"),
        *("1.5,2.5e+-3", "1.5,2.5e1-3", "1.5,2.5f3", "1.5,0x1p3", "1.5,2_5", "1.5,٣", "1,2,3,4"),
        *("1.5,+-2.5", "1.5,--2.5", "1.5,2-.5", "1.5,2.-5", "1.5,nan", "# 1.5,2.5"),
        *("1.5,123456789.5", "1.5,0.1234567890123456789012345", "1.5,2.5e62", "1.5,12345678.9e-80"),
    ],
)
@pytest.mark.parametrize("first", [True, False])
def test_any_other_row_is_left_to_others(row: str, first: bool) -> None:
    good = "1.5,2.5\n" * 3
    assert read(f"{row}\n{good}" if first else f"{good}{row}\n{good}") is None


def test_columns_that_are_not_wanted_may_hold_anything_alike() -> None:
    raw = b"1,2.5,3\n4,5.5,123456789012345678\n"
    form = row_form(raw[:8], delimiter=",", decimal=".", cells=3)
    assert form is not None
    found = read_columns(io.BytesIO(raw), form, [1, 0], 2)
    assert found is not None
    assert [column.tolist() for column in found] == [[2.5, 5.5], [1.0, 4.0]]


@pytest.mark.parametrize("block", [16, 31, 64, 1000])
def test_blocks_end_where_they_like(block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plain_rows, "_BLOCK_BYTES", block)
    rows = [(f"{i / 7:.4f}", f"{-i / 3:.7f}") for i in range(200)]
    columns = read("\n".join(map(",".join, rows)))
    assert columns is not None
    assert bits(columns[0]) == bits(float(x) for x, _ in rows)
    assert bits(columns[1]) == bits(float(z) for _, z in rows)


@pytest.mark.parametrize(
    ("head", "row", "options"),
    [
        ("x [mm],z [um]\n", "{x:.4f},{z:.5f}\n", {}),
        ("# made by hand\r\nx [mm];z [um]\r\n", "{x:.4f};{z:.5f}\r\n", {}),
        ("x [mm];z [um]\n", "{x:.4f};{z:.5f}\n", {"comma": True}),
        ("n\tx [mm]\tz [um]\n", "7\t{x:.4f}\t{z:.5f}\n", {}),
        ("interval: 0.5 mm\nz [um]\n", "{z:.5f}\n", {}),
        ("# x [mm] z [um]\n", "{x:.4f} {z:.5f}\n", {}),
    ],
    ids=["comma", "crlf", "decimal comma", "third column", "heights", "blanks"],
)
def test_a_file_gives_the_same_scan_either_way(
    tmp_path: Path, head: str, row: str, options: dict[str, bool], monkeypatch: pytest.MonkeyPatch
) -> None:
    i = np.arange(100)
    text = "".join(row.format(x=x, z=z) for x, z in zip(0.5 * i, np.sin(i), strict=True))
    if options.get("comma"):
        text = text.replace(".", ",")
    path = tmp_path / "scan.csv"
    path.write_bytes((head + text).encode())
    used = []
    quick = table.read_columns

    def watched(*arguments: object) -> object:
        used.append(quick(*arguments))  # type: ignore[arg-type]
        return used[-1]

    monkeypatch.setattr(table, "read_columns", watched)
    one = read_scan(path, ReadingOptions())
    assert [found is not None for found in used] == [True]
    monkeypatch.setattr(table, "row_form", lambda *_, **__: None)
    other = read_scan(path, ReadingOptions())
    assert one.x.tobytes() == other.x.tobytes()
    assert one.z.tobytes() == other.z.tobytes()
    assert one.source == other.source
