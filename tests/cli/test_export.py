"""``filmstress export``: files that give the same numbers, and nothing written over unasked."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import x3pio

from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading.scan_file import read_scan
from tests.cli._contract import check
from tests.cli._run import FILM, POST, PRE, SUBSTRATE, Ended, process, run


@pytest.fixture(autouse=True)
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def stress(*pair: str) -> dict[str, object]:
    return run("measure", *pair, *SUBSTRATE, *FILM, "--json").data["stress"]


@pytest.mark.parametrize("form", ["x3p", "csv"])
def test_a_copy_gives_the_same_stress(form: str):
    for path, name in ((PRE, "before"), (POST, "after")):
        ended = run("export", path, "--to", form, "--out", f"{name}.{form}")
        assert (ended.code, ended.out) == (0, f"{name}.{form}\n")
        assert ended.err == "1501 points of 1501 rows written\n"
        copy, own = read_scan(f"{name}.{form}"), read_scan(path)
        assert np.array_equal(copy.x, own.x)
        assert np.array_equal(copy.z, own.z)
    assert stress(f"before.{form}", f"after.{form}") == stress(PRE, POST)


def test_the_name_comes_from_the_scan_and_stands_in_this_folder(place: Path):
    assert run("export", PRE, "--to", "x3p").out == "01-000.x3p\n"
    assert (place / "01-000.x3p").exists()
    ended = process("export", "-", "--to", "csv", stdin=Path(PRE).read_bytes(), cwd=place)
    assert (ended.code, ended.out) == (0, "scan.csv\n")


@pytest.mark.parametrize("name", ["", ".gz"])
def test_a_scan_without_a_name_is_none(name: str):
    ended = run("export", name, "--to", "x3p")
    assert (ended.code, ended.out) == (3, "")


def refused(ended: Ended, code: int, *words: str) -> None:
    assert (ended.code, ended.out) == (code, "")
    for word in words:
        assert word in ended.err


def test_nothing_is_written_over_unasked(place: Path):
    (place / "01-000.x3p").write_text("mine")
    (place / "dangling.csv").symlink_to(place / "nowhere")
    refused(run("export", PRE, "--to", "x3p"), 3, "01-000.x3p", "is there", "--force")
    refused(run("export", PRE, "--to", "csv", "--out", "dangling.csv"), 3, "is there")
    assert (place / "01-000.x3p").read_text() == "mine"
    assert run("export", PRE, "--to", "x3p", "--force").code == 0
    assert x3pio.read("01-000.x3p").layers[0].z.size == 1501
    assert sorted(path.name for path in place.iterdir()) == ["01-000.x3p", "dangling.csv"]


def test_a_scan_is_not_replaced_by_its_own_copy(place: Path):
    own = Path(PRE).read_bytes()
    (place / "own.csv").write_bytes(own)
    (place / "link.csv").symlink_to("own.csv")
    for name in ("own.csv", "./own.csv", "link.csv"):
        ended = run("export", "own.csv", "--to", "csv", "--out", name, "--force")
        refused(ended, 2, "is the scan itself")
    assert (place / "own.csv").read_bytes() == own


def test_what_is_wrong_leaves_no_file(place: Path):
    refused(run("export", PRE, "--to", "smd"), 2, "'smd' is no format", "write x3p or csv")
    refused(run("export", PRE), 2, "--to")
    refused(run("export", "none.csv", "--to", "x3p"), 3, "no such file")
    refused(run("export", PRE, "--to", "x3p", "--out", "no/such.x3p"), 3, "no such directory")
    refused(run("export", PRE, "--to", "x3p", "--out", str(place)), 3, "it is a directory")
    refused(run("export", PRE, "--to", "x3p", "--azimuth", "5 mm"), 3, "--azimuth")
    assert list(place.iterdir()) == []


def test_options_and_rows_left_out(place: Path):
    rows = [f"{i},{0.1 * i}" for i in range(30)]
    rows[4] = "4,"
    (place / "heights.txt").write_text("\n".join(rows))
    ended = run(
        "export", "heights.txt", "--to", "x3p", "--position-unit", "mm", "--height-unit", "um"
    )
    assert ended.code == 0
    told = ended.err.splitlines()
    assert told[:2] == [
        "29 points of 30 rows written",
        "1 row left out: no height (blank cell) (first in line 5)",
    ]
    assert any("position unit mm as stated" in line for line in told)
    own = read_scan("heights.txt", ReadingOptions(position_unit="mm", height_unit="um"))
    assert np.array_equal(read_scan("heights.x3p").z, own.z)


def test_json():
    data = run("export", PRE, "--to", "x3p", "--json").data
    check(data)
    assert data["schema"] == "filmstress/export/1"
    assert (data["file"], data["points"]) == ("01-000.x3p", 1501)
    assert len(data["inputs"]["scan"]["sha256"]) == 64


def test_inspect_chooses_a_layer_and_says_when_it_must(place: Path):
    z = 1e-7 * np.random.default_rng(3).standard_normal((2, 300))
    x3pio.Profile.from_layers(z, x_scale=1e-4).save(place / "two.x3p")
    ended = run("inspect", "two.x3p")
    assert ended.code == 3
    assert "holds 2 layers; want one\n  choose one by its number from 1: --trace 2" in ended.err
    ended = run("inspect", "two.x3p", "--trace", "2")
    assert ended.code == 0
    assert "scan 2 of 2 in the file" in ended.out
