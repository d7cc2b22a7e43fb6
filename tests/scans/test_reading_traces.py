"""Several scans in one text file: each form of such files, chosen by number and by name.

The rows of every scan are checked against ``float`` of the text that was written.
"""

from __future__ import annotations

import gzip
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut, ReadingOptions, Scan
from filmstress.scans.reading import traces
from filmstress.scans.reading.runs import find_runs
from filmstress.scans.reading.scan_file import check_head, read_scan, read_scans

X = np.arange(0.0, 30.0, 0.5)
Z = np.sin(X)
HEAD = "x [mm],z [um]\n"


@dataclass(frozen=True)
class Written:
    """The rows of one scan as text, and the scan that must come of it."""

    text: str
    x: np.ndarray
    z: np.ndarray


def one(factor: float = 1.0, *, backwards: bool = False, points: int = 60) -> Written:
    x, z = X[:points], factor * Z[:points]
    cells = [(f"{a:.3f}", f"{b:.6f}") for a, b in zip(x, z, strict=True)]
    written = cells[::-1] if backwards else cells
    return Written(
        "".join(f"{a},{b}\n" for a, b in written),
        np.array([float(a) for a, _ in cells]) * 1e-3,
        np.array([float(b) for _, b in cells]) * 1e-6,
    )


A, B, C = one(), one(2.0), one(3.0, backwards=True)


def put(tmp_path: Path, content: str) -> Path:
    path = tmp_path / "scan.csv"
    path.write_text(content, encoding="utf-8")
    return path


def all_of(path: Path, **options: str) -> list[Scan]:
    found = read_scans(path, ReadingOptions(**options))
    assert all(isinstance(one, Scan) for one in found), found
    return list(found)  # type: ignore[arg-type]


def assert_are(found: list[Scan], wanted: list[Written]) -> None:
    assert len(found) == len(wanted)
    for scan, written in zip(found, wanted, strict=True):
        np.testing.assert_array_equal(scan.x, written.x)
        np.testing.assert_array_equal(scan.z, written.z)


FORMS = {
    "blank line": HEAD + A.text + "\n" + B.text + "\n\n" + C.text,
    "heads again": HEAD + A.text + HEAD + B.text + HEAD + C.text,
    "blank line and heads": HEAD + A.text + "\n" + HEAD + B.text + "\n\n" + HEAD + C.text,
    "headings": "one\n" + HEAD + A.text + "two\n" + B.text + "three\n" + C.text,
    "headings and heads": "".join(
        f"Scan: {name}\n{HEAD}{scan.text}" for name, scan in (("one", A), ("two", B), ("three", C))
    ),
    "remarks": f"# one\n{HEAD}{A.text}# two\n{B.text}\n# three\n\n{C.text}",
    "only positions": HEAD + A.text + B.text + C.text,
    "way back": HEAD + A.text + "20,0\n10,0\n" + B.text + C.text,
}
NAMED = ("headings", "headings and heads", "remarks")


@pytest.mark.parametrize("form", FORMS)
def test_scans_after_one_another(tmp_path, form):
    path = put(tmp_path, FORMS[form])
    found = all_of(path)
    assert_are(found, [A, B, C])
    assert [scan.source.trace for scan in found] == [1, 2, 3]
    assert [scan.source.rows for scan in found] == [60, 60, 60]
    for number, scan in enumerate(found, 1):
        assert_are([read_scan(path, ReadingOptions(trace=str(number)))], [[A, B, C][number - 1]])
        lines = FORMS[form].splitlines()
        first = next(note for note in scan.source.notes if note.startswith(f"scan {number} of 3"))
        start, end = first.partition("(lines ")[2].rstrip(")").split(" to ")
        assert [lines[int(start) - 1], lines[int(end) - 1]] == [
            [A, B, C][number - 1].text.splitlines()[0],
            [A, B, C][number - 1].text.splitlines()[-1],
        ]
    if form in NAMED:
        assert_are([read_scan(path, ReadingOptions(trace="two"))], [B])
        assert_are([read_scan(path, ReadingOptions(trace="THREE"))], [C])


def test_forth_and_back_with_a_blank_line_and_packed(tmp_path):
    path = tmp_path / "scan.csv.gz"
    path.write_bytes(gzip.compress((HEAD + A.text + "\n" + C.text).encode()))
    assert_are(all_of(path), [A, C])


@pytest.mark.parametrize(
    "text",
    [
        "x [mm],before [um],after [um]\n",
        "x [mm],z before [um],z after [um]\n",
        "x [mm],z,z2\n,um,um\n",
        "n,x [mm],z1 [um],z2 [um]\n",
        "x [mm],scan 1 [um],scan 2 [um]\n",
        "Position / mm,Scan A / µm,Scan B / µm\n",
    ],
)
def test_heights_side_by_side(tmp_path, text):
    counted = text.startswith("n,")
    pairs = zip(A.text.splitlines(), B.text.splitlines(), strict=True)
    rows = "".join(
        ("7," if counted else "") + f"{one},{other.partition(',')[2]}\n" for one, other in pairs
    )
    path = put(tmp_path, text + rows)
    found = all_of(path)
    assert_are(found, [A, B])
    for number, scan in enumerate(found, 1):
        name = scan.source.height_column
        assert_are([read_scan(path, ReadingOptions(trace=name))], [[A, B][number - 1]])
        columns = f"{1 + counted},{number + 1 + counted}"
        (alone,) = all_of(path, columns=columns)
        assert_are([alone], [[A, B][number - 1]])
        assert alone.source.trace is None


def test_pairs_of_columns(tmp_path):
    pairs = zip(A.text.splitlines(), C.text.splitlines(), strict=True)
    rows = "".join(f"{one},{other}\n" for one, other in pairs)
    path = put(tmp_path, "x1 [mm],z1 [um],x2 [mm],z2 [um]\n" + rows)
    assert_are(all_of(path), [A, C])
    assert_are([read_scan(path, ReadingOptions(trace="z2"))], [C])


def test_pairs_of_columns_of_two_lengths(tmp_path):
    """The shorter pair ends in blank cells, which are counted."""
    shorter = one(2.0, points=40)
    other = [*shorter.text.splitlines(), *[","] * 20]
    rows = "".join(f"{a},{b}\n" for a, b in zip(A.text.splitlines(), other, strict=True))
    path = put(tmp_path, "x1 [mm],z1 [um],x2 [mm],z2 [um]\n" + rows)
    found = all_of(path)
    assert_are(found, [A, shorter])
    assert found[1].source.left_out == (LeftOut("no position (blank cell)", 20, 42),)


def test_both_at_once(tmp_path):
    """Forth and back, before and after: four scans, numbered column by column."""
    forth = zip(A.text.splitlines(), B.text.splitlines(), strict=True)
    rows = [f"{a},{b.partition(',')[2]}\n" for a, b in forth]
    path = put(tmp_path, "x [mm],before [um],after [um]\n" + "".join(rows) + "".join(rows[::-1]))
    assert_are(all_of(path), [A, A, B, B])
    with pytest.raises(ScanError, match="several scans are called 'after'"):
        read_scan(path, ReadingOptions(trace="after"))
    assert_are([read_scan(path, ReadingOptions(trace="2", columns="x,after"))], [B])


def test_each_scan_may_have_units_of_its_own(tmp_path):
    metres = "".join(
        f"{float(a) * 1e-3:.6f},{float(b) * 1e-6:.12f}\n"
        for a, b in (row.split(",") for row in B.text.splitlines())
    )
    path = put(tmp_path, HEAD + A.text + "\nx [m],z [m]\n" + metres)
    first, second = all_of(path)
    assert_are([first], [A])
    np.testing.assert_allclose(second.x, B.x, rtol=1e-15)
    np.testing.assert_allclose(second.z, B.z, rtol=1e-15, atol=1e-20)
    assert second.source.position_unit == second.source.height_unit == "m"


def test_heads_that_change_the_columns_are_refused(tmp_path):
    path = put(tmp_path, HEAD + A.text + "z [um],x [mm]\n" + B.text)
    with pytest.raises(ScanError, match="name other columns as position and height") as caught:
        read_scans(path)
    assert caught.value.line == 62


def heights(scan: Written) -> str:
    return "".join(row.partition(",")[2] + "\n" for row in scan.text.splitlines())


@pytest.mark.parametrize("parting", ["second\n", "\nsecond\n\n", "# pause\nsecond\n", "z [um]\n"])
def test_heights_without_positions(tmp_path, parting):
    path = put(tmp_path, f"interval: 0.5 mm\nz [um]\n{heights(A)}{parting}{heights(B)}")
    assert_are(all_of(path), [A, B])
    if "second" in parting:
        assert_are([read_scan(path, ReadingOptions(trace="second"))], [B])


def test_heights_parted_by_a_blank_line_want_a_word(tmp_path):
    path = put(tmp_path, f"interval: 0.5 mm\nz [um]\n{heights(A)}\n{heights(B)}")
    with pytest.raises(ScanError, match="a missing point, or nothing") as caught:
        read_scan(path)
    assert "--trace 1" in caught.value.hint
    assert_are([read_scan(path, ReadingOptions(trace="2"))], [B])


def test_rows_left_out_are_counted_with_their_own_scan(tmp_path):
    rows = B.text.splitlines(keepends=True)
    rows[30:30] = ["15,NaN\n", "# dust\n", "NaN,NaN\n"]
    ended = A.text + "1e3,NaN\n\nsecond\n" + "".join(rows) + "made by hand\n"
    first, second = all_of(put(tmp_path, HEAD + ended))
    assert_are([first, second], [A, B])
    assert first.source.left_out == (LeftOut("no height ('NaN')", 1, 62),)
    assert set(second.source.left_out) == {
        LeftOut("no height ('NaN')", 1, 95),
        LeftOut("no values ('NaN')", 1, 97),
        LeftOut("words after the last row", 1, 128),
    }
    assert (first.source.rows, second.source.rows) == (61, 62)
    assert "1 comment line passed over below the header (first: line 96)" in second.source.notes


def test_rows_left_out_among_heights_keep_their_place(tmp_path):
    rows = heights(B).splitlines(keepends=True)
    rows[10] = "NaN\n"
    path = put(tmp_path, f"interval: 0.5 mm\nz [um]\n{heights(A)}b\n{''.join(rows)}")
    second = all_of(path)[1]
    np.testing.assert_array_equal(second.x, np.delete(B.x, 10))


def test_names_are_printable(tmp_path):
    """Whatever a file calls its scans, a terminal is not told to do anything."""
    text = HEAD + A.text + "Run\t2 \x1b[31m" + "long " * 50 + "\n" + B.text
    second = all_of(put(tmp_path, text))[1]
    assert second.source.trace_name.isprintable()
    assert len(second.source.trace_name) <= 60
    assert all(note.isprintable() for note in second.source.notes)
    assert_are([read_scan(put(tmp_path, text), ReadingOptions(trace="2"))], [B])
    name = second.source.trace_name
    assert_are([read_scan(put(tmp_path, text), ReadingOptions(trace=name))], [B])


def test_several_are_listed_and_nothing_is_chosen(tmp_path):
    path = put(tmp_path, FORMS["headings and heads"])
    with pytest.raises(ScanError) as caught:
        read_scan(path)
    assert caught.value.message == (
        "holds 3 scans: 1 'Scan: one' (60 points, 29.5 mm, from line 3); "
        "2 'Scan: two' (60 points, 29.5 mm, from line 65); "
        "3 'Scan: three' (60 points, 29.5 mm, from line 127)"
    )
    for way in ("--trace 2", 'trace = "2"', "pre_trace", "post_trace"):
        assert way in caught.value.hint


@pytest.mark.parametrize(
    ("trace", "message"),
    [
        ("4", "no scan is number '4'; the file holds 3 scans: 1 "),
        ("0", "no scan is number '0'"),
        ("four", "no scan is called 'four'; the file holds 3 scans"),
        ("", "no scan is called ''"),
        ("²", "no scan is called '²'"),
        ("9" * 5000, "no scan is number"),
    ],
)
def test_a_scan_that_is_not_there(tmp_path, trace, message):
    with pytest.raises(ScanError) as caught:
        read_scan(put(tmp_path, FORMS["headings"]), ReadingOptions(trace=trace))
    assert caught.value.message.startswith(message)


def test_very_many_are_not_all_listed(tmp_path):
    with pytest.raises(ScanError) as caught:
        read_scan(put(tmp_path, HEAD + 40 * A.text))
    assert "; and 28 more" in caught.value.message


def test_too_many_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(traces, "MOST_SCANS", 4)
    with pytest.raises(ScanError, match="holds 5 scans; want 4 or fewer"):
        read_scans(put(tmp_path, HEAD + 5 * A.text))
    assert len(read_scans(put(tmp_path, HEAD + 4 * A.text))) == 4


def test_one_scan_may_be_called_the_first(tmp_path):
    path = put(tmp_path, HEAD + A.text)
    scan = read_scan(path, ReadingOptions(trace="1"))
    assert_are([scan], [A])
    assert scan.source == read_scan(path).source
    with pytest.raises(ScanError, match="no scan is number '2'; the file holds one scan"):
        read_scan(path, ReadingOptions(trace="2"))


def test_a_scan_too_short_does_not_spoil_the_others(tmp_path):
    path = put(tmp_path, HEAD + A.text + B.text + "0,0\n1,0\n2,0\n")
    first, second, third = read_scans(path)
    assert_are([first, second], [A, B])  # type: ignore[list-item]
    assert isinstance(third, ScanError)
    assert "#3: has 3 points; want 10 or more" in str(third)


@pytest.mark.parametrize("slip", ["1O.5,1.0", "O.5,1.0", "l2,1.0", "-.5x,1.0", "1.2.3,1.0"])
@pytest.mark.parametrize("row", [20, 60, 80])
def test_a_slip_of_the_pen_is_no_heading(tmp_path, slip, row):
    """Neither within a scan nor between two."""
    rows = (A.text + B.text).splitlines()
    rows.insert(row, slip)
    with pytest.raises(ScanError, match="stands between rows of numbers") as caught:
        read_scans(put(tmp_path, HEAD + "\n".join(rows)))
    assert caught.value.line == row + 2


@pytest.mark.parametrize("slip", ["1.2O", "O.5", "1..5", "+1,5x"])
def test_a_slip_of_the_pen_among_heights_is_no_heading(tmp_path, slip):
    text = f"interval: 0.5 mm\nz [um]\n{heights(A)}{slip}\n{heights(B)}"
    with pytest.raises(ScanError, match="stands between rows of numbers") as caught:
        read_scans(put(tmp_path, text))
    assert caught.value.line == 63


@pytest.mark.parametrize("heading", ["W7", "2026-03-14", "Run 2", "B"])
def test_names_with_digits_are_headings(tmp_path, heading):
    text = f"interval: 0.5 mm\nz [um]\n{heights(A)}{heading}\n{heights(B)}"
    assert_are(all_of(put(tmp_path, text)), [A, B])
    rows = (HEAD + A.text).replace(",", "\t") + heading + "\tX\n" + B.text.replace(",", "\t")
    assert_are(all_of(put(tmp_path, rows)), [A, B])


def test_words_within_a_scan_are_refused(tmp_path):
    rows = (A.text + B.text).splitlines()
    rows.insert(30, "lost contact")
    with pytest.raises(ScanError, match="'lost contact' stands between rows of numbers"):
        read_scan(put(tmp_path, HEAD + "\n".join(rows)), ReadingOptions(trace="2"))


def test_the_first_rows_tell_columns_side_by_side(tmp_path):
    row = "".join(f"{i},1,2\n" for i in range(12))
    path = put(tmp_path, "x [mm],before [um],after [um]\n" + row)
    with pytest.raises(ScanError, match="holds 2 scans: 1 'before', 2 'after'"):
        check_head(path)
    check_head(path, ReadingOptions(trace="after"))


scans = st.lists(
    st.tuples(st.booleans(), st.integers(15, 80), st.floats(-3.0, 3.0)), min_size=2, max_size=5
)


@given(scans, st.integers(0, 2**32 - 1))
@settings(max_examples=200, deadline=None)
def test_runs_are_those_that_were_put_together(parts, seed):
    """Stages that dither by up to two steps; a run starts where its neighbour does not end."""
    rng = np.random.default_rng(seed)
    x, ends = [], [0]
    for number, (backwards, points, _) in enumerate(parts):
        run = np.arange(80.0)[:points] if number else np.arange(80.0)
        run = run + rng.uniform(-0.9, 0.9, run.size)
        x.append(run[::-1] if backwards else run)
        ends.append(ends[-1] + run.size)
    runs = find_runs(np.concatenate(x))
    assert runs is not None
    starts = [start for start, _ in runs.parts]
    assert len(starts) == len(parts)
    for start, end in zip(starts, ends, strict=False):
        # Where the stage turns at once, the farthest point is the turn, dithering included.
        assert abs(start - end) <= 3
    assert runs.parts[-1][1] == ends[-1]


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=200))
@settings(max_examples=200, deadline=None)
def test_any_positions_are_parted_without_loss_or_not_at_all(values):
    x = np.array(values)
    runs = find_runs(x)
    if runs is not None:
        covered = sum(end - start for start, end in runs.parts) + runs.between
        assert covered == x.size
        assert all(0 <= start < end <= x.size for start, end in runs.parts)
        for (_, end), (start, _) in zip(runs.parts, runs.parts[1:], strict=False):
            assert end <= start
