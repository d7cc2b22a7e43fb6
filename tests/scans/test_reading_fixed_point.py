"""Plain decimal numbers a block at a time: what ``float`` reads, to the last bit, or nothing."""

from __future__ import annotations

import io
import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading import fixed_point, table
from filmstress.scans.reading.fixed_point import read_columns, row_form
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


@settings(max_examples=400, deadline=None)
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
@given(st.lists(st.floats(allow_nan=False, allow_infinity=False), min_size=1), st.integers(0, 17))
def test_any_float_with_an_exponent_is_itself_or_left_to_others(
    values: list[float], digits: int
) -> None:
    cells = [f"{value:.{digits}e}" for value in values]
    columns = read("".join(f"{cell},1e0\n" for cell in cells))
    if columns is not None:
        assert bits(columns[0]) == bits(map(float, cells))


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(number(), number()), min_size=1, max_size=20),
    st.sampled_from([(",", "."), (";", ","), ("\t", "."), (None, ".")]),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
)
def test_numbers_are_what_float_reads(
    rows: list[tuple[str, str]], signs: tuple[str | None, str], end: str, ended: bool
) -> None:
    """Python's float rounds correctly (David Gay's strtod), so it is the truth here."""
    delimiter, decimal = signs
    lines = [(delimiter or " ").join(row).replace(".", decimal) for row in rows]
    if delimiter == ",":
        lines = [",".join(row) for row in rows]
    text = end.join(lines) + (end if ended or len(lines) == 1 else "")
    columns = read(text, delimiter=delimiter, decimal=decimal)  # type: ignore[arg-type]
    assert columns is not None
    for index, column in enumerate(columns):
        assert bits(column) == bits(float(row[index]) for row in rows)


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
        *("1.5,", ".,2.5", "1.5,-.", "1.5,2.5,", "1.5,2,5", "", "1.5 ,2.5", "1.5,1.5\r"),
        *("1.5,2.5e3", "1.5,+-2.5", "1.5,--2.5", "1.5,2-.5", "1.5,2.-5", "1.5,nan", "# 1.5,2.5"),
        *("1.5,123456789.5", "1.5,0.1234567890123456"),
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
    monkeypatch.setattr(fixed_point, "_BLOCK_BYTES", block)
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
