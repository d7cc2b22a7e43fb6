"""Tables: they can be parsed, hold what JSON holds, and no cell is a formula."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.cli._run import DEMO, POST, PRE, run

FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "=cmd|' /C calc'!A0", "  =1+1", "\t=1+1")


def table(text: str) -> list[dict[str, str]]:
    rows = list(csv.reader(io.StringIO(text), strict=True))
    assert len({len(row) for row in rows}) == 1
    assert len(set(rows[0])) == len(rows[0])
    return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]


def test_inspect() -> None:
    rows = table(run("inspect", PRE, POST, "--csv").out)
    scans = run("inspect", PRE, POST, "--json").data["scans"]
    assert [row["file"] for row in rows] == [PRE, POST]
    for row, scan in zip(rows, scans, strict=True):
        assert float(row["curvature [1/m]"]) == scan["curvature"]["value"]
        assert float(row["curvature_u [1/m]"]) == scan["curvature"]["standard_uncertainty"]
        assert float(row["bow [m]"]) == scan["bow"]["value"]
        assert float(row["length [m]"]) == scan["length"]["value"]


def test_lot() -> None:
    lot = str(DEMO / "M24-11" / "lot.toml")
    rows, data = table(run("lot", lot, "--csv").out), run("lot", lot, "--json").data
    assert run("lot", lot, "--csv").code == run("lot", lot).code
    for row, wafer in zip(rows, data["wafers"], strict=True):
        assert row["wafer"] == wafer["id"]
        assert float(row["stress [Pa]"]) == wafer["stress"]["value"]
        assert float(row["conformance_probability"]) == wafer["conformance_probability"]


def test_substrates() -> None:
    rows = table(run("substrates", "--csv").out)
    constants = run("substrates", "--json").data["constants"]
    assert len(rows) == len(constants)
    assert all(row["source"] for row in rows)
    assert [float(row["value"]) for row in rows] == [one["value"] for one in constants]


@pytest.mark.parametrize(("cut", "rows"), [("Si(111)", 1), ("Si(110)", 12)])
def test_a_cut(cut: str, rows: int) -> None:
    moduli = table(run("substrates", cut, "--csv").out)
    assert len(moduli) == rows
    data = run("substrates", cut, "--json").data
    listed = data["modulus_by_azimuth"] or [{"modulus": data["biaxial_modulus"]}]
    assert [float(row["modulus [Pa]"]) for row in moduli] == [
        one["modulus"]["value"] for one in listed
    ]


@pytest.mark.parametrize("name", FORMULAS)
def test_a_file_name_is_no_formula(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    file = name.replace("/", "_")
    Path(file).write_bytes(Path(PRE).read_bytes())
    ended = run("inspect", "--csv", "--", file)
    assert ended.code == 0
    assert table(ended.out)[0]["file"] == "'" + file


@pytest.mark.parametrize("name", FORMULAS)
def test_an_id_is_no_formula(name: str, tmp_path: Path) -> None:
    lot = tmp_path / "lot.toml"
    lot.write_text(
        'lot = "T"\n[substrate]\nmaterial = "Si(001)"\nthickness = "675 um ± 2 um"\n'
        f"[[wafer]]\nid = {json.dumps(name)}\n"
        f'scans = [{{ azimuth = "0 deg", pre = {json.dumps(PRE)}, post = {json.dumps(POST)} }}]\n',
        encoding="utf-8",
    )
    ended = run("lot", str(lot), "--csv")
    if ended.code == 0:
        assert table(ended.out)[0]["wafer"].startswith("'")
    else:  # an id may be refused for what it holds
        assert (ended.code, ended.out) == (3, "")
