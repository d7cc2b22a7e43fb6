"""``filmstress thickness``, and its record as the film's thickness of a measurement and a lot."""

from __future__ import annotations

import csv
import io
import json
import math
import shutil
from pathlib import Path

import numpy as np
import pytest

from filmstress.records.notice import WarningCode
from filmstress.records.scan import HeightMap, ScanSource
from tests.cli._contract import check, check_quantity
from tests.cli._run import DEMO, POST, PRE, SUBSTRATE, run
from tests.measure._maps import write_sdf
from tests.scans.step_scans import HEIGHT, X, film, form, noise, scan_of, write

UM = 1e-6


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with two scans over a groove, a flat, and the record of the two."""
    monkeypatch.chdir(tmp_path)
    for number in (1, 2):
        z = film(400 * UM, 600 * UM) + form(1e-6, 2e-7) + noise(number)
        write(tmp_path / f"{number}.csv", scan_of(X, z))
    write(tmp_path / "flat.csv", scan_of(X, noise(3)))
    ended = run("thickness", "1.csv", "2.csv", "--json")
    assert ended.code == 0
    (tmp_path / "01.json").write_text(ended.out, encoding="utf-8")
    return tmp_path


def test_json_keeps_the_contract(place: Path) -> None:
    data = run("thickness", "1.csv", "2.csv", "--json").data
    check(data)
    assert data["schema"] == "filmstress/thickness/1"
    check_quantity(data["thickness"])
    low, high = data["thickness"]["interval"]
    assert low < HEIGHT < high
    assert [step["file"] for step in data["steps"]] == ["1.csv", "2.csv"]
    for step in data["steps"]:
        check_quantity(step["thickness"])
        assert step["kind"] == "groove"
        assert [part["on"] for part in step["parts"]] == ["film", "substrate", "film"]
    assert all(len(one["sha256"]) == 64 for one in data["inputs"]["files"])
    assert {notice["code"] for notice in data["warnings"]} <= set(WarningCode)


def test_csv_is_a_table_of_the_steps(place: Path) -> None:
    ended = run("thickness", "1.csv", "2.csv", "--csv")
    steps = list(csv.DictReader(io.StringIO(ended.out)))
    data = run("thickness", "1.csv", "2.csv", "--json").data
    assert [float(one["thickness [m]"]) for one in steps] == [
        one["thickness"]["value"] for one in data["steps"]
    ]
    assert {one["method"] for one in steps} == {"ISO 5436-1 A1, parabola"}


def test_words(place: Path) -> None:
    text = run("thickness", "1.csv", "2.csv").out
    assert text.startswith("Film thickness ")
    assert "2 steps in 2 files" in text
    assert "a parabola" in text
    assert "height scale" in text
    straight = run("thickness", "1.csv", "--straight", "--height-scale-uncertainty", "0.1 %").out
    assert "a straight line, as in ISO 5436-1" in straight
    assert "bow left out" in straight
    assert "Defaults used" not in straight


def test_one_edge_is_called_no_type_a1(place: Path) -> None:
    write(place / "edge.csv", scan_of(X, film(400 * UM) + noise(4)))
    assert "there is no type A1" in run("thickness", "edge.csv").out


def test_stated_edges(place: Path) -> None:
    data = run("thickness", "1.csv", "--edge", "0.4 mm", "--edge", "600 um", "--json").data
    assert data["inputs"]["edges"] == [{"unit": "m", "values": [0.0004, 0.0006]}]
    assert data["steps"][0]["edges"]["values"] == [0.0004, 0.0006]


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("flat.csv",), 3, "no step can be told from the noise"),
        (("none.csv",), 3, "no such file"),
        ((), 2, "SCAN"),
        (("1.csv", "--reference", "up"), 2, "no side of a step"),
        (("1.csv", "--edge", "5"), 3, "--edge"),
        (("1.csv", "--edge", "3 mm"), 3, "outside the scan"),
        (("1.csv", "--edge", "0.4 mm ± 1 um"), 3, "uncertainty"),
        (("1.csv", "--json", "--csv"), 2, "exclude"),
        (("1.csv", "1.csv"), 3, "very bytes"),
        (("1.csv", "--height-scale-uncertainty", "900 %"), 3, "height scale"),
        (("1.csv", "--figure", "a.gif"), 2, ".png"),
        (("1.csv", "--noise", "loud"), 2, "--noise"),
        (("01.json",), 3, "01.json"),
    ],
)
def test_refusals(place: Path, words: tuple[str, ...], code: int, told: str) -> None:
    ended = run("thickness", *words)
    assert ended.code == code
    assert told in ended.err
    assert ended.out == ""


def test_a_step_of_a_map_is_read_along_the_line_that_is_named(place: Path) -> None:
    y = np.linspace(0.0, 20 * UM, 5)
    z = film(400 * UM, 600 * UM) + np.random.default_rng(4).normal(0.0, 1e-9, (y.size, X.size))
    write_sdf(place / "map.sdf", HeightMap(X, y, z, ScanSource("", "", "m", "m", "x", "z", y.size)))
    ended = run("thickness", "map.sdf")
    assert ended.code == 3
    assert "--azimuth" in ended.err
    ended = run("thickness", "map.sdf", "--azimuth", "0 deg", "--json")
    assert ended.code == 0, ended.err
    assert ended.data["thickness"]["value"] == pytest.approx(HEIGHT, rel=0.01)


@pytest.mark.parametrize("ending", ["png", "svg", "pdf"])
def test_figure(place: Path, ending: str) -> None:
    write(place / "edge.csv", scan_of(X, film(400 * UM) + noise(4)))
    for name, scans in (("two", ("1.csv", "2.csv")), ("one", ("edge.csv",))):
        file = place / f"{name}.{ending}"
        assert run("thickness", *scans, "--figure", str(file)).code == 0
        assert file.stat().st_size > 1000
    if ending == "svg":
        drawn = (place / "two.svg").read_text(encoding="utf-8")
        for word in (">film<", ">substrate<", ">left out<", "1.csv, as read", "Film thickness"):
            assert word in drawn


def test_a_measurement_takes_the_record(place: Path) -> None:
    record = json.loads((place / "01.json").read_text(encoding="utf-8"))
    told = record["thickness"]
    ended = run("measure", PRE, POST, *SUBSTRATE, "--film-thickness", "from 01.json", "--json")
    check(ended.data)
    read = ended.data["inputs"]["film"]["thickness"]
    for name in ("value", "standard_uncertainty", "degrees_of_freedom"):
        assert read[name] == told[name]
    files = ended.data["inputs"]["film"]["thickness_files"]
    assert [one["file"] for one in files] == ["01.json", "1.csv", "2.csv"]
    # The same as stated by hand, but for the degrees of freedom.
    by_hand = f"{told['value'] * 1e9!r} nm ± {told['standard_uncertainty'] * 1e9!r} nm"
    stated = run("measure", PRE, POST, *SUBSTRATE, "--film-thickness", by_hand, "--json").data
    for name in ("value", "standard_uncertainty"):
        assert math.isclose(ended.data["stress"][name], stated["stress"][name], rel_tol=1e-9)
    (row,) = [one for one in ended.data["budget"] if one["input"] == "film thickness"]
    assert row["degrees_of_freedom"] == told["degrees_of_freedom"]
    assert (
        "from 01.json"
        in run("measure", PRE, POST, *SUBSTRATE, "--film-thickness", "from 01.json").out
    )


def test_a_record_that_is_none(place: Path) -> None:
    for name, told in (("none.json", "cannot be read"), ("1.csv", "not JSON")):
        ended = run("measure", PRE, POST, *SUBSTRATE, "--film-thickness", f"from {name}")
        assert ended.code == 3
        assert told in ended.err
        assert "--film-thickness" in ended.err


@pytest.fixture
def lot(place: Path) -> Path:
    """A lot whose wafer A takes its thickness from a record beside its table."""
    folder = place / "lot"
    shutil.copytree(DEMO / "M24-11", folder)
    (folder / "step").mkdir()
    for name in ("1.csv", "2.csv", "01.json"):
        shutil.copy(place / name, folder / "step" / name)
    table = folder / "wafers.csv"
    heads, first, *rest = table.read_text(encoding="utf-8").splitlines()
    cells = first.split(",")
    where = heads.split(",").index("film_thickness [nm]")
    cells[where : where + 2] = ["from step/01.json", ""]
    table.write_text("\n".join([heads, ",".join(cells), *rest, ""]), encoding="utf-8")
    return folder


def test_a_lot_takes_records_and_keeps_their_files(lot: Path) -> None:
    ended = run("lot", str(lot / "lot.toml"), "--record", "--json")
    assert ended.code in {0, 1}
    read = ended.data["wafers"][0]["inputs"]["film"]
    assert read["thickness"]["value"] == pytest.approx(HEIGHT, rel=0.02)
    (path,) = (lot / "records").glob("*.json")
    record = json.loads(path.read_text(encoding="utf-8"))
    kept = {one["path"]: one["sha256"] for one in record["files"]}
    told = {Path(one["file"]).name: one["sha256"] for one in read["thickness_files"]}
    assert told.keys() == {"01.json", "1.csv", "2.csv"}
    for name, sha256 in told.items():
        assert kept[f"step/{name}"] == sha256
    assert run("verify", str(path)).code == 0
    moved = lot.parent / "moved"
    shutil.move(lot, moved)
    (path,) = (moved / "records").glob("*.json")
    assert run("verify", str(path)).code == 0
    with (moved / "step" / "2.csv").open("a", encoding="utf-8") as file:
        file.write("\n")
    changed = run("verify", str(path))
    assert changed.code == 1
    assert "step/2.csv" in changed.out
    (moved / "step" / "01.json").unlink()
    gone = run("verify", str(path))
    assert gone.code == 1
    assert "step/01.json" in gone.out


def test_a_record_of_other_scans_is_not_kept(lot: Path) -> None:
    with (lot / "step" / "1.csv").open("a", encoding="utf-8") as file:
        file.write("\n")
    ended = run("lot", str(lot / "lot.toml"), "--record")
    assert ended.code == 3
    assert "not the scan" in ended.err
    assert not list(lot.glob("records/*.json"))


def test_checking_a_lot_names_what_is_wrong_with_a_record(lot: Path) -> None:
    (lot / "step" / "01.json").write_text("{}", encoding="utf-8")
    ended = run("lot", str(lot / "lot.toml"), "--check")
    assert ended.code == 3
    assert "thickness record is wanted" in ended.err
    assert "wafer A" in ended.err
