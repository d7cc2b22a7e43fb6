"""Every command that computes gives one object of one form: head, what was asked, results."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.cli._run import DEMO, FILM, POST, PRE, SUBSTRATE, run

STUDY = "wafer,operator,bow [um]\n" + "".join(
    f"{wafer},{who},{10 * wafer + turn + ord(who) % 3}\n"
    for wafer in (1, 2, 3)
    for who in "AB"
    for turn in (1, 2)
)
COMMANDS = [
    ("inspect", PRE),
    ("measure", PRE, POST, *SUBSTRATE, *FILM),
    ("lot", "demo/N24-03/lot.toml"),
    ("lot", "demo/N24-03/lot.toml", "--check"),
    ("verify", "records/0001-N24-03.json"),
    ("thickness", "demo/step/step-1.csv"),
    ("plan", *SUBSTRATE, *FILM, "--stress", "200 MPa", "--length", "80 mm"),
    ("stack", "demo/stack/stack.toml"),
    ("history", "lots"),
    ("history", "wafers", "--recipe", "nitride-tensile-500"),
    ("history", "recipes"),
    ("history", "check"),
    ("chart", "nitride-tensile-500"),
    ("compare", "lot:N24-03", "lot:N24-04"),
    ("gauge", "study.csv"),
    ("substrates",),
    ("substrates", "Si(110)"),
    ("simulate", "trial", "--stress", "200 MPa", "--film-thickness", "300 nm"),
    ("export", PRE, "--to", "csv"),
    ("demo", "again"),
]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("json")
    shutil.copytree(DEMO, place / "demo")
    (place / "study.csv").write_text(STUDY)
    return place


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_object_has_the_one_form(
    words: tuple[str, ...], place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(place)
    monkeypatch.setenv("FILMSTRESS_HISTORY", str(place / "history.sqlite"))
    if not (place / "records").exists():
        for lot in ("N24-03", "N24-04"):
            run("lot", f"demo/{lot}/lot.toml", "--record", "--record-folder", "records")
    ended = run(*words, "--json")
    assert ended.code in (0, 1), ended.err
    told = json.loads(ended.out)
    assert list(told)[:2] == ["schema", "filmstress"]
    assert told["schema"].startswith("filmstress/")
    assert isinstance(told["warnings"], list)
    if words[:2] != ("history", "check"):
        assert isinstance(told["inputs"], dict)
