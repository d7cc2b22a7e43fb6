"""The documents are tests: what they show runs, and what they list is all there is."""

from __future__ import annotations

import contextlib
import io
import json
import re
import shlex
import shutil
import tomllib
from pathlib import Path

import pytest

from filmstress.cli.program import COMMANDS, GROUPS
from filmstress.inputs.keys import arguments
from filmstress.records.notice import RefusalCode, WarningCode
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity
from filmstress.version import VERSION
from tests.cli._run import DEMO, ROOT, run
from tests.history.made import record

README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PACKAGE = ROOT / "filmstress"

# Codes that nothing gives yet; they are in the records for what is being built.
COMING: set[str] = set()


def blocks(language: str, text: str = README) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", text, re.S)


def commands() -> list[str]:
    """Every command line of the program that the README shows."""
    lines = "\n".join(blocks("sh")).splitlines()
    shown = [re.search(r"(?:^|&& )(?:\S*/)?filmstress (.+)$", line) for line in lines]
    return [match.group(1) for match in shown if match]


def table_of(head: str) -> list[str]:
    """First column of the README's table with this first head, code marks taken off."""
    rows = re.search(rf"^\| {head} \|.*?\n((?:\|.*\n)+)", README, re.M)
    assert rows, head
    return [row.split("|")[1].strip() for row in rows.group(1).splitlines()[1:]]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder in which the README's paths exist."""
    shutil.copytree(DEMO, tmp_path / "data" / "demo")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILMSTRESS_HISTORY", str(tmp_path / "history.sqlite"))
    (tmp_path / "record.json").write_text(json.dumps(record()), encoding="utf-8")
    assert run("history", "import", "record.json").code == 0
    _write_recipes(tmp_path)
    return tmp_path


def _write_recipes(place: Path) -> None:
    """Two recipes of four lots at different pressures, the one of charts, a study of a gauge."""
    names = []
    for number in range(8):
        pressure, stray = 0.4 + 0.1 * (number % 4), (-1) ** number * 1e6 * (number + 1)
        stress = -300e6 + 2e8 * pressure + stray
        lot, recipe = f"B{number}", f"nitride-{'ab'[number // 4]}"
        stresses = (stress, stress + 2e6)
        made = record(10 + number, lot=lot, recipe=recipe, pressure=pressure, stresses=stresses)
        names.append(f"lot-{number}.json")
        (place / names[-1]).write_text(json.dumps(made), encoding="utf-8")
    named = record(20, lot="L1", recipe="nitride-low-stress")
    (place / "named.json").write_text(json.dumps(named), encoding="utf-8")
    assert run("history", "import", *names, "named.json").code == 0
    rows = [f"{w},{o},{10 + w + 0.1 * r}" for w in range(5) for o in "AB" for r in range(3)]
    (place / "study.csv").write_text("\n".join(["wafer,operator,bow [um]", *rows]))


def test_the_readme_shows_every_command() -> None:
    assert {line.split()[0] for line in commands()} == {*COMMANDS, *GROUPS}


@pytest.mark.parametrize("line", commands(), ids=lambda line: line.split()[0])
def test_commands_of_the_readme_run(line: str, place: Path) -> None:
    words: list[str] = []
    if "my-lots/" in line:
        shutil.copytree(DEMO, "my-lots")
    if line.startswith("verify"):
        assert run("lot", "my-lots/N24-03/lot.toml", "--record").code == 0
    for word in shlex.split(line):
        names = sorted(map(str, Path().glob(word))) if "*" in word else []
        words += names or [word]
    ended = run(*words)
    assert (ended.code, bool(ended.out)) == (0, True), ended.err


def test_the_python_of_the_readme_runs(place: Path) -> None:
    scans = {name: next((DEMO / "N24-03" / name).glob("*.csv")) for name in ("pre", "post")}
    for name, path in scans.items():
        shutil.copy(path, place / f"{name}.csv")
    told = io.StringIO()
    with contextlib.redirect_stdout(told):
        for block in blocks("python"):
            exec(compile(block, "README.md", "exec"), {})
    assert told.getvalue().strip().endswith("tensile")


def test_the_lot_file_of_the_readme_is_one(place: Path) -> None:
    text, _ = blocks("toml")
    for wafer in tomllib.loads(text)["wafer"]:
        for scan in wafer["scans"]:
            for state in ("pre", "post"):
                file = place / scan[state]
                file.parent.mkdir(exist_ok=True)
                shutil.copy(DEMO / "N24-03" / state / file.name, file)
    (place / "lot.toml").write_text(text, encoding="utf-8")
    ended = run("lot", "lot.toml")
    assert ended.code == 1  # the demonstration film is tensile, the limits are compressive
    assert "REJECTED" in ended.out


def test_the_states_of_the_readme_are_those_of_a_stack(place: Path) -> None:
    _, states = blocks("toml")
    folder = place / "data" / "demo" / "stack"
    whole = (folder / "stack.toml").read_text(encoding="utf-8")
    head = whole[: whole.index('[[state]]\nname = "oxide"')]
    (folder / "stack.toml").write_text(head + states, encoding="utf-8")
    ended = run("stack", str(folder / "stack.toml"))
    assert (ended.code, ended.err) == (0, "")
    assert "brings the bow to 0 um" in ended.out


def test_quantities_are_written_as_the_readme_says() -> None:
    kind = Kind("substrate thickness", "length", 1e-5, 1e-2, "525 um")
    rows = [re.findall(r"`([^`]+)`", cell) for cell in table_of("written")]
    assert len(rows) >= 5
    for text in (text for row in rows for text in row):
        assert read_quantity(text, kind).value == pytest.approx(525e-6)
    unstated, exact = rows[0][0], rows[1][0]
    assert read_quantity(unstated, kind).u is None
    assert read_quantity(exact, kind).u == 0.0


@pytest.mark.parametrize(("head", "codes"), [("warning", WarningCode), ("refusal", RefusalCode)])
def test_the_readme_lists_exactly_the_codes(
    head: str, codes: type[WarningCode] | type[RefusalCode]
) -> None:
    assert table_of(head) == sorted(f"`{code.value}`" for code in codes if code not in COMING)


def test_every_code_is_given_somewhere() -> None:
    rooms = [path for path in PACKAGE.rglob("*.py") if not {"report", "records"} & {*path.parts}]
    text = "\n".join(path.read_text(encoding="utf-8") for path in rooms)
    silent = {
        code.value
        for code in (*WarningCode, *RefusalCode)
        if not re.search(rf'{type(code).__name__}\.{code.name}\b|code="{code.value}"', text)
    }
    assert silent == COMING


def test_options_in_the_documents_exist() -> None:
    known = {"--" + name.replace("_", "-") for name, _, _ in arguments()}
    lines = [(name,) for name in COMMANDS]
    lines += [(group, name) for group, (_, names) in GROUPS.items() for name in names]
    for line in lines:
        known |= set(re.findall(r"--[a-z][a-z-]*", run(*line, "--help").out))
    others = {"--quiet", "--out", "--scans", "--help"}  # of pip and of the benchmarks
    others |= {"--files", "--hostile", "--each"}
    for text in (README, DEVELOPERS):
        assert set(re.findall(r"--[a-z][a-z-]+", text)) <= known | others


def test_exit_codes_are_documented() -> None:
    told = README[README.index("Exit codes:") :].split("\n\n")[0]
    assert re.findall(r"\b(\d+) ", told)[:6] == ["0", "1", "2", "3", "4", "130"]


def test_files_that_the_documents_name_exist() -> None:
    linked, told = r"\]\(([\w./-]+)\)", r"`((?:data|notebooks|tests|filmstress)/[\w./-]+)`"
    for text in (README, DEVELOPERS):
        for name in re.findall(linked, text) + re.findall(told, text):
            assert (ROOT / name).exists(), name
    for module in re.findall(r"-m (tests\.[\w.]+)", DEVELOPERS):
        assert (ROOT / module.replace(".", "/")).with_suffix(".py").exists(), module


def test_one_version() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == VERSION
    assert project["scripts"] == {"filmstress": "filmstress.cli.app:main"}


def test_the_change_log_has_an_unreleased_head() -> None:
    log = README[README.index("## Change log") :]
    assert re.match(r"## Change log\n\n### Unreleased\n\n\* ", log)
