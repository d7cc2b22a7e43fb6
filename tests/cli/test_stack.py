"""``filmstress stack``: words, table, JSON, figure, and exit codes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.cli._contract import check
from tests.cli._run import DEMO, run
from tests.history.made import record

STACK = str(DEMO / "stack" / "stack.toml")
FLAT = """\
[substrate]
material = "Si(001)"
thickness = "675 um ± 2 um"
[scan]
length = "120 mm"
[[state]]
name = "bare"
[[state]]
name = "oxide"
layer = { thickness = "500 nm ± 1 %", stress = "-300 MPa ± 5 MPa" }
"""


def test_what_the_screen_says() -> None:
    ended = run("stack", STACK)
    assert (ended.code, ended.err) == (0, "")
    lines = ended.out.splitlines()
    assert "brings the bow to 0 um" in lines[0]
    assert max(map(len, lines)) <= 100
    for words in ("silicon oxide changed", "other face", "predicted", "Thermal and intrinsic"):
        assert words in ended.out


def test_the_json_keeps_the_contract() -> None:
    ended = run("stack", STACK, "--json")
    assert ended.code == 0
    check(ended.data)
    states = ended.data["states"]
    assert [one["step"] for one in states] == ["first", "layer", "layer", "change", "layer"]
    assert states[1]["stress"]["interval"][0] < -281e6 < states[1]["stress"]["interval"][1]
    assert ended.data["balance"]["thickness"]["unit"] == "m"


def test_the_table_says_the_same_as_the_json() -> None:
    rows = list(csv.DictReader(io.StringIO(run("stack", STACK, "--csv").out)))
    states = run("stack", STACK, "--json").data["states"]
    assert [row["state"] for row in rows] == [one["name"] for one in states]
    for row, one in zip(rows, states, strict=True):
        assert float(row["bow [m]"]) == one["bow"]["value"]
        assert float(row["sum_of_forces [N/m]"]) == one["sum_of_forces"]["value"]


def test_the_figure_is_written_and_names_every_state(tmp_path: Path) -> None:
    path = tmp_path / "stack.svg"
    ended = run("stack", STACK, "--figure", str(path))
    assert ended.code == 0
    drawn = path.read_text(encoding="utf-8")
    for name in ("bare", "nitride", "back oxide", "balancing layer", "bow predicted", "target"):
        assert name in drawn


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        ("", 0, "Bow in the end"),
        ('[balance]\nlayer = { stress = "-200 MPa ± 9 MPa" }\n', 3, "bends the wafer the wrong"),
        ("[[state]]\nname = 'anneal'\n", 3, "nothing is known of what this step did"),
    ],
)
def test_exit_codes(more: str, code: int, words: str, tmp_path: Path) -> None:
    path = tmp_path / "stack.toml"
    path.write_text(FLAT + more, encoding="utf-8")
    ended = run("stack", str(path))
    assert ended.code == code
    assert words in " ".join((ended.out + ended.err).split())


def test_a_scan_that_is_not_there_is_told(tmp_path: Path) -> None:
    path = tmp_path / "stack.toml"
    path.write_text(Path(STACK).read_text(encoding="utf-8"), encoding="utf-8")
    ended = run("stack", str(path))
    assert ended.code == 3
    assert "bare-000.csv" in ended.err


@pytest.fixture
def recorded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A history of four lots of one recipe, and a stack file that names it."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILMSTRESS_HISTORY", str(tmp_path / "history.sqlite"))
    for number, stress in enumerate((-200e6, -208e6, -196e6, -203e6)):
        made = record(number, lot=f"A{number}", stresses=(stress, stress + 2e6))
        (tmp_path / f"{number}.json").write_text(json.dumps(made), encoding="utf-8")
    assert run("history", "import", *(f"{number}.json" for number in range(4))).code == 0
    path = tmp_path / "stack.toml"
    head = FLAT.partition('[[state]]\nname = "oxide"')[0]
    path.write_text(f'{head}[[state]]\nname = "n"\nlayer = {{ recipe = "nitride" }}\n', "utf-8")
    return path


def test_a_layer_from_the_history(recorded: Path) -> None:
    ended = run("stack", str(recorded))
    assert ended.code == 0
    assert "n: recipe nitride from the history: 8 wafers of 4 lots" in " ".join(ended.out.split())
    layer = run("stack", str(recorded), "--json").data["states"][1]
    check(run("stack", str(recorded), "--json").data)
    assert layer["known"] == "recorded"
    told = layer["layer"]["recorded"]
    assert (told["recipe"], told["wafers"], told["lots"]) == (
        "nitride",
        8,
        ["A0", "A1", "A2", "A3"],
    )
    assert layer["stress"]["value"] == pytest.approx(-200.75e6)


def test_a_history_that_is_not_there_is_told(recorded: Path) -> None:
    ended = run("stack", str(recorded), "--history", "none.sqlite")
    assert ended.code == 3
    assert "there is no history yet" in ended.err
    assert "state n, layer.recipe" in ended.err
