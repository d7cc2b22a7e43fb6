"""What a lot's owner reads: the decision and why, each wafer on a line, what to look at."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from tests.cli._run import DEMO, Ended, run


@pytest.fixture
def lot(tmp_path: Path) -> Path:
    """A copy of a demonstration lot, to be changed."""
    shutil.copytree(DEMO / "N24-03", tmp_path / "lot")
    return tmp_path / "lot" / "lot.toml"


def changed(file: Path, *changes: tuple[str, str]) -> Ended:
    text = file.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    file.write_text(text, encoding="utf-8")
    return run("lot", str(file))


def rows(text: str) -> list[list[str]]:
    """Cells of the table of wafers."""
    lines = text.split("\n\n")[1].splitlines()
    return [re.split(r"\s{2,}", line.strip()) for line in lines[1:]]


@pytest.mark.parametrize("name", ["N24-03", "N24-04", "M24-11"])
def test_lines_fit_and_wafers_stand_one_a_line(name: str) -> None:
    ended = run("lot", str(DEMO / name / "lot.toml"))
    assert max(map(len, ended.out.splitlines())) <= 100
    decision = {"N24-03": "ACCEPTED", "N24-04": "UNDECIDED", "M24-11": "REJECTED"}[name]
    assert ended.out.splitlines()[1].startswith(f"  {decision}: ")
    assert ended.code == (0 if decision == "ACCEPTED" else 1)
    data = run("lot", str(DEMO / name / "lot.toml"), "--json").data
    assert [cells[0] for cells in rows(ended.out)] == [wafer["id"] for wafer in data["wafers"]]


def test_a_stack_file_is_told_from_a_lot_file_and_sent_to_its_command() -> None:
    ended = run("lot", str(DEMO / "stack" / "stack.toml"))
    assert (ended.code, ended.out) == (3, "")
    assert "is a stack file" in ended.err
    assert "filmstress stack" in ended.err
    ended = run("stack", str(DEMO / "N24-03" / "lot.toml"))
    assert (ended.code, ended.out) == (3, "")
    assert "is a lot file" in ended.err
    assert "filmstress lot" in ended.err


def test_lowest_and_highest_have_the_digits_of_their_wafers() -> None:
    text = run("lot", str(DEMO / "M24-11" / "lot.toml")).out
    found = re.search(r"from (\S+ MPa) to (\S+ MPa)", text)
    assert found
    values = [cells[1].split(" ± ")[0] for cells in rows(text)]
    for end in found.groups():
        assert end.removesuffix(" MPa") in values


def test_an_undecided_lot_says_which_wafer_and_how_sure() -> None:
    text = run("lot", str(DEMO / "N24-04" / "lot.toml")).out
    assert "too close to a limit to tell: wafer 03 (conforms with probability" in text


def test_a_refused_wafer_is_named_with_its_reason(lot: Path) -> None:
    (lot.parent / "post" / "03-000.csv").unlink()
    ended = run("lot", str(lot))
    assert ended.code == 1
    assert ["03", "none", "refused: unreadable"] in rows(ended.out)
    told = " ".join(ended.out.split())
    assert "wafer 03 refused, which blocks acceptance" in told
    assert re.search(r"wafer 03, unreadable: \S+03-000\.csv: no such file; ", told)


def test_what_all_wafers_share_is_said_once(lot: Path) -> None:
    text = run("lot", str(lot)).out
    assert text.count("equibiaxial-assumed") == 1
    assert "  - azimuth: no uncertainty stated" in text


def test_limits_on_the_lot_are_shown_with_what_was_found(lot: Path) -> None:
    more = 'upper = "230 MPa"\nspread_max = "30 MPa"\nwithin_max = "20 MPa"'
    ended = changed(lot, ('upper = "230 MPa"', more))
    assert ended.code == 0
    assert re.search(r"wafer to wafer: at most 30 MPa, found \S+ MPa, conforms", ended.out)
    assert re.search(r"within a wafer: at most 20 MPa, found \S+ MPa, conforms", ended.out)


def test_a_lot_without_limits_says_that_nothing_is_decided(lot: Path) -> None:
    text = lot.read_text(encoding="utf-8")
    start = text.index("[specification]")
    lot.write_text(text[:start] + text[text.index("[deposition]") :], encoding="utf-8")
    ended = run("lot", str(lot))
    assert ended.code == 0
    assert "no decision: no specification is stated" in ended.out


def test_all_faults_of_a_lot_file_are_said_at_once_with_their_wafer(lot: Path) -> None:
    ended = changed(
        lot,
        ("[film]", '[film]\nthicknes = "3 nm"'),
        ('id = "02"', 'id = "02"\nrole = "king"'),
    )
    assert (ended.code, ended.out) == (3, "")
    assert "'thicknes'" in ended.err
    assert "thickness" in ended.err
    assert "king" in ended.err
    assert "02" in ended.err
    assert ended.err.count("filmstress: ") == 2


def test_processes_do_not_change_the_result(lot: Path) -> None:
    alone, pooled = (run("lot", str(lot), "--json", "--jobs", n) for n in ("1", "2"))
    assert alone.data == pooled.data
