"""The history from the command line."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest

from filmstress.cli.app import run
from tests.cli._run import DEMO
from tests.history import made

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> Path:
    """A history of two lots, named by the variable."""
    place = tmp_path / "history.sqlite"
    monkeypatch.setenv("FILMSTRESS_HISTORY", str(place))
    records = []
    for number, lot in enumerate(("A1", "A2"), start=1):
        path = tmp_path / f"{lot}.json"
        told = made.record(number, lot=lot, date=f"2026-03-1{number}", stresses=(-2e8, -1.9e8))
        path.write_text(json.dumps(told, indent=2), encoding="utf-8")
        records.append(str(path))
    assert run(["history", "import", *records]) == 0
    assert "2 new entries" in capsys.readouterr().err
    return place


def test_lists(history: Path, capsys: Capture) -> None:
    assert run(["history", "where"]) == 0
    assert capsys.readouterr().out == f"{history}\n"
    assert run(["history", "lots"]) == 0
    told = capsys.readouterr().out
    assert "A1" in told
    assert "accepted" in told
    assert run(["history", "wafers", "--lot", "A2", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["wafers"]
    assert [one["stress"]["value"] for one in found] == [-2e8, -1.9e8]
    # Student's t for 37.5 degrees of freedom, truncated to 37: 2.0262 (statistical tables).
    low, high = found[0]["stress"]["interval"]
    assert (high - low) / 2e6 == pytest.approx(2.026, abs=0.002)
    assert run(["history", "wafers", "--since", "2026-03-12", "--csv"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 3
    assert run(["history", "recipes"]) == 0
    assert "nitride" in capsys.readouterr().out
    assert run(["history", "show", "2"]) == 0
    assert json.loads(capsys.readouterr().out)["lot"] == "A2"


def test_correction_check_copy_and_export(history: Path, capsys: Capture, tmp_path: Path) -> None:
    again = tmp_path / "again.json"
    again.write_text(json.dumps(made.record(7, lot="A1")), encoding="utf-8")
    assert run(["history", "correct", "1", str(again)]) == 3
    assert "--why" in capsys.readouterr().err
    assert run(["history", "correct", "1", str(again), "--why", "wrong thickness"]) == 0
    assert run(["history", "lots", "--superseded"]) == 0
    told = capsys.readouterr().out
    assert "corrected by entry 3" in told
    assert "wrong thickness" in told
    assert run(["history", "check"]) == 0
    assert "sound; 3 lots, 6 wafers" in capsys.readouterr().out
    assert run(["history", "copy", str(tmp_path / "copy.sqlite")]) == 0
    assert run(["history", "copy", str(tmp_path / "copy.sqlite")]) == 3
    capsys.readouterr()
    assert run(["history", "export"]) == 0
    lines = tmp_path / "all.jsonl"
    lines.write_text(capsys.readouterr().out, encoding="utf-8")
    other = str(tmp_path / "other.sqlite")
    assert run(["history", "import", str(lines), "--history", other]) == 0
    assert run(["history", "import", str(lines), "--history", other]) == 0
    assert "0 new entries" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["lots", "--since", "yesterday"], 2),
        (["lots", "--json", "--csv"], 2),
        (["lots", "--nothing"], 2),
        (["nothing"], 2),
        (["show", "99"], 3),
        (["show", "x"], 2),
        (["import", "no-such-file"], 3),
        (["import", __file__], 3),
        (["lots", "--history", "none.sqlite"], 3),
        (["lots", "--history", "mysql://a/b"], 2),
    ],
)
def test_what_is_wrong_is_said(history: Path, capsys: Capture, words: list[str], code: int) -> None:
    assert run(["history", *words]) == code
    captured = capsys.readouterr()
    assert captured.err
    assert "Traceback" not in captured.err
    assert not captured.out


def test_a_recorded_lot_is_in_the_history(capsys: Capture, tmp_path: Path) -> None:
    lot = tmp_path / "N24-03"
    shutil.copytree(DEMO / "N24-03", lot)
    place = str(tmp_path / "new" / "history.sqlite")
    assert run(["lot", str(lot / "lot.toml"), "--record", "--history", place]) == 0
    assert "entry 1 of the history" in capsys.readouterr().err
    assert run(["history", "wafers", "--history", place, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["wafers"]
    assert [one["wafer"] for one in found] == ["01", "02", "03", "04"]
    assert run(["lot", str(lot / "lot.toml"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["wafers"]
    assert [one["stress"]["value"] for one in found] == [one["stress"]["value"] for one in told]


def test_a_named_history_that_cannot_be_used_stops_before_measuring(
    capsys: Capture, tmp_path: Path
) -> None:
    (tmp_path / "taken").write_bytes(b"not a database, and longer than a header of one" * 9)
    words = ["lot", str(DEMO / "N24-03" / "lot.toml"), "--record-folder", str(tmp_path / "r")]
    assert run([*words, "--history", str(tmp_path / "taken")]) == 3
    captured = capsys.readouterr()
    assert not captured.out
    assert "not a database" in captured.err


def test_the_usual_history_is_only_told_of(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("FILMSTRESS_HISTORY")
    (tmp_path / "filmstress").mkdir()
    (tmp_path / "filmstress" / "history.sqlite").write_bytes(b"not a database of anything " * 99)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    words = ["lot", str(DEMO / "N24-03" / "lot.toml"), "--record-folder", str(tmp_path / "r")]
    assert run(words) == 0
    told = capsys.readouterr().err
    assert "record written" in told
    assert "not kept in the history" in told
