"""``lot --check``: everything that can be told without measuring, in one answer."""

from __future__ import annotations

from pathlib import Path

import pytest

from filmstress.lots import batch
from filmstress.scans.reading.scan_file import check_head, read_scan
from tests.cli._run import DEMO, POST, PRE, run
from tests.lots.writing import write_lot

LIMITS = "[specification]\nlower = '150 MPa'\nupper = '250 MPa'\n"


@pytest.mark.parametrize("lot", ["N24-03", "N24-04", "M24-11"])
def test_a_good_lot(lot: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("measured")

    monkeypatch.setattr(batch, "measure_wafer", never)
    ended = run("lot", str(DEMO / lot / "lot.toml"), "--check")
    assert (ended.code, ended.err) == (0, "")
    assert "nothing to mend" in ended.out
    data = run("lot", str(DEMO / lot / "lot.toml"), "--check", "--json").data
    assert data["faults"] == []
    assert data["scans"] == 4 * data["wafers"] or lot == "M24-11"


def test_everything_is_told_at_once(tmp_path: Path) -> None:
    path = write_lot(tmp_path, {f"{i:02}": 195e6 for i in range(1, 8)}, tail=LIMITS)
    text = path.read_text(encoding="utf-8")
    (tmp_path / "post-01-0.csv").rename(tmp_path / "post-01-00.csv")
    (tmp_path / "pre-02-0.csv").write_text("not a scan\n")
    (tmp_path / "post-03-0.csv").write_bytes((tmp_path / "post-04-0.csv").read_bytes())
    text = text.replace('id = "05"\n', 'id = "05"\nsupport = "clamped"\n')
    text = text.replace('id = "06"\n', 'id = "06"\nsubstrate.material = "Si(0O1)"\n')
    text = text.replace('id = "07"\n', 'id = "07"\nsuport = "rim"\nwindow = "-30..30"\n')
    text = text.replace("post-07-0.csv", "gone.csv")
    path.write_text(text, encoding="utf-8")
    ended = run("lot", str(path), "--check")
    assert (ended.code, ended.out) == (3, "")
    for words in (
        "wafer 01: ", "post-01-0.csv: no such file", "did you mean 'post-01-00.csv'?",
        "wafer 02: ", "pre-02-0.csv",
        "wafer 03: ", "wafer 04: ", "hold the same bytes",
        "wafer 05: clamped: ",
        "wafer 06: ", "Si(0O1)",
        "wafer 07: unknown key 'suport'", "did you mean 'support'?",
        "wafer 07, scan.window: ", "gone.csv: no such file",
    ):  # fmt: skip
        assert words in ended.err, (words, ended.err)
    data = run("lot", str(path), "--check", "--json")
    assert data.code == 3
    assert len(data.data["faults"]) == 9
    assert all(fault["message"] for fault in data.data["faults"])


def test_the_head_of_a_scan_is_read_as_the_scan_is() -> None:
    for path in (PRE, POST):
        check_head(path)
        assert len(read_scan(path).x) > 100


def test_a_table_given_for_a_lot_file() -> None:
    ended = run("lot", str(DEMO / "M24-11" / "wafers.csv"))
    assert ended.code == 3
    assert "wafers.csv: is a table, not a lot file" in ended.err
    assert 'wafers = "wafers.csv"' in ended.err
    assert "--template" in ended.err


def test_no_lot_file() -> None:
    ended = run("lot")
    assert ended.code == 2
    assert "lot file is missing" in ended.err


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ('lot = "K7"', 'lott = "K7"'),
        ("thickness = '675 um ± 1 um'", "thicknes = '675 um ± 1 um'"),
        ("material = 'Si(001)'", "materal = 'Si(001)'"),
        ("id = '01'", "ids = '01'"),
        ("scans = [", "scan = ["),
        ("scans = [", "scanns = ["),
        (" pre = ", " pree = "),
        (" post = ", " pst = "),
        ("upper = '250 MPa'", "uper = '250 MPa'"),
    ],
)
def test_one_mistyped_key_is_one_message(tmp_path: Path, right: str, wrong: str) -> None:
    path = write_lot(tmp_path, {"01": 195e6}, tail="[specification]\nupper = '250 MPa'\n")
    text = path.read_text(encoding="utf-8")
    quoted = text if right in text else text.replace('"', "'")
    assert right in quoted
    path.write_text(quoted.replace(right, wrong, 1), encoding="utf-8")
    for option in ((), ("--check",)):
        ended = run("lot", str(path), *option)
        assert ended.code == 3
        assert ended.err.count("filmstress: ") == 1, ended.err
