"""The command ``lot``: exit codes, what goes to stdout, and that JSON and table say the same."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from filmstress.cli.app import main
from tests.lots.writing import write_lot

LIMITS = "[specification]\nlower = '150 MPa'\nupper = '250 MPa'\n"
ROOT = Path(__file__).parents[2]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Any:
    def run(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as end:
            main(["lot", *map(str, arguments)])
        out, err = capsys.readouterr()
        return int(end.value.code or 0), out, err

    return run


@pytest.mark.parametrize(
    ("stresses", "tail", "code", "decision"),
    [
        ({"01": 195e6, "02": 205e6}, LIMITS, 0, "accepted"),
        ({"01": 195e6, "02": 300e6}, LIMITS, 1, "rejected"),
        ({"01": 195e6, "02": 250e6}, LIMITS, 1, "undecided"),
        ({"01": 195e6, "02": 300e6}, "", 0, None),
    ],
    ids=str,
)
def test_exit_code_and_decision(
    tmp_path: Path, run: Any, stresses: dict[str, float], tail: str, code: int, decision: str | None
) -> None:
    path = write_lot(tmp_path, stresses, tail=tail)
    found, out, err = run(path)
    assert (found, err) == (code, "")
    if decision:
        assert decision.upper() in out
    found, out, err = run(path, "--json")
    assert (found, err) == (code, "")
    data = json.loads(out)
    assert data["schema"].startswith("filmstress/lot")
    assert data["decision"] == decision
    assert [wafer["id"] for wafer in data["wafers"]] == list(stresses)
    for wafer in data["wafers"]:
        assert (wafer["conformance_probability"] is None) == (decision is None)
    assert data["statistics"]["measured"] == 2
    assert len(data["inputs"]["sha256"]) == 64
    assert (len(data["would_decide"]) == 1) == (decision == "undecided")


def test_all_wafers_refused(tmp_path: Path, run: Any) -> None:
    path = write_lot(tmp_path, {"01": 195e6, "02": 200e6}, tail=LIMITS)
    for scan in tmp_path.glob("post*"):
        scan.unlink()
    code, out, _ = run(path, "--json")
    assert code == 3
    data = json.loads(out)
    assert data["decision"] == "undecided"
    assert [wafer["refusal"]["code"] for wafer in data["wafers"]] == ["unreadable"] * 2
    assert data["statistics"]["mean"] is None
    code, out, _ = run(path)
    assert code == 3
    assert "refused: unreadable" in out
    code, out, _ = run(path, "--csv")
    assert code == 3
    assert len(out.splitlines()) == 3


def test_one_refused_wafer(tmp_path: Path, run: Any) -> None:
    path = write_lot(tmp_path, {"01": 195e6, "02": 200e6}, tail=LIMITS)
    (tmp_path / "pre-01-0.csv").unlink()
    assert run(path)[0] == 1
    without = tmp_path / "without.toml"
    without.write_text(path.read_text().replace(LIMITS, ""))
    assert run(without)[0] == 0


def test_a_faulty_lot_file(tmp_path: Path, run: Any) -> None:
    path = tmp_path / "lot.toml"
    path.write_text('lot = "K7"\nsuport = "rim"\n[[wafer]]\nid = "01"\nscans = []\n')
    code, out, err = run(path)
    assert (code, out) == (3, "")
    for words in ("unknown key 'suport'", "did you mean 'scan.support'?", "wafer 01"):
        assert words in err
    code, out, err = run(tmp_path / "none.toml")
    assert (code, out) == (3, "")
    assert "none.toml: cannot be read" in err


@pytest.mark.parametrize(
    "arguments", [[], ["a.toml", "--noise", "loud"], ["a.toml", "--jobs", "0"], ["a.toml", "--x"]]
)
def test_wrong_usage(run: Any, arguments: list[str]) -> None:
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert err


def test_table_and_json_say_the_same_in_one_process_and_in_two(tmp_path: Path, run: Any) -> None:
    path = write_lot(tmp_path, {"01": 195e6, "=2": 205e6}, tail=LIMITS)
    _, serial, _ = run(path, "--json")
    _, parallel, _ = run(path, "--json", "--jobs", "2")
    assert serial == parallel
    _, table, _ = run(path, "--csv")
    rows = list(csv.DictReader(io.StringIO(table)))
    for row, wafer in zip(rows, json.loads(serial)["wafers"], strict=True):
        # An id that a spreadsheet would compute is made harmless.
        assert row["wafer"].lstrip("'") == wafer["id"]
        assert float(row["stress [Pa]"]) == wafer["stress"]["value"]
        expanded = wafer["stress"]["expanded_uncertainty"]
        assert float(row["expanded_uncertainty [Pa]"]) == expanded
        assert float(row["conformance_probability"]) == wafer["conformance_probability"]
        assert row["sense"] == "tensile"


def test_json_has_what_is_promised(tmp_path: Path, run: Any) -> None:
    tail = "[deposition]\ntool = 'PX-2'\npressure = '600 mTorr'\n" + LIMITS
    path = write_lot(tmp_path, {"01": 195e6}, tail=tail)
    data = json.loads(run(path, "--json")[1])
    assert {
        "schema", "filmstress", "lot", "recipe", "inputs", "decision", "reason", "statistics",
        "limits", "wafers", "warnings",
    } <= set(data)  # fmt: skip
    assert data["inputs"]["deposition"] == {"tool": "PX-2", "pressure": "600 mTorr"}
    pressure = data["inputs"]["deposition_quantities"]["pressure"]
    assert pressure["unit"] == "Pa"
    assert pressure["value"] == pytest.approx(79.99, abs=0.01)
    assert pressure["standard_uncertainty"] is None
    assert data["inputs"]["specification"]["confidence"] == 0.95
    assert data["inputs"]["wafer_table"] is None
    wafer = data["wafers"][0]
    assert {"stress", "budget", "warnings", "conformance_probability", "refusal"} <= set(wafer)
    assert sum(row["share"] for row in wafer["budget"]) == pytest.approx(1.0)
    thickness = [row for row in wafer["budget"] if row["input"] == "film thickness"]
    assert thickness[0]["common_to"] == "lot K7"


def test_limits_on_the_lot_are_told(tmp_path: Path, run: Any) -> None:
    tail = "[specification]\nspread_max = '30 MPa'\nwithin_max = '10 MPa'\n"
    path = write_lot(tmp_path, {"01": 195e6, "02": 205e6}, tail=tail)
    code, out, _ = run(path)
    assert code == 1
    assert "wafer to wafer: at most 30 MPa, found" in out
    assert "within a wafer: at most 10 MPa, one azimuth alone says nothing of it" in out
    spread, within = json.loads(run(path, "--json")[1])["limits"]
    assert spread["conformance_probability"] > 0.95
    assert spread["not_judged"] is None
    assert (within["found"], within["conformance_probability"]) == (None, None)
    assert "one azimuth" in within["not_judged"]


@pytest.mark.skipif(os.name == "nt", reason="signals of a process group")
def test_an_interrupt_ends_it_quietly(tmp_path: Path) -> None:
    path = write_lot(tmp_path, {f"{i:02}": 200e6 for i in range(30)})
    process = subprocess.Popen(
        [sys.executable, "-m", "filmstress", "lot", str(path), "--jobs", "2"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        start_new_session=True,
    )
    time.sleep(0.8)
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGINT)
    _, err = process.communicate(timeout=60)
    # A quick machine is done before; a slow one is still starting, and is ended by the signal.
    assert process.returncode in (0, 130, -signal.SIGINT)
    assert "Traceback" not in err
