"""The example lot file reads back, whole and with every one of its comments taken off."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from filmstress.inputs.keys import all_keys
from filmstress.lots.manifest import read_lot
from filmstress.lots.specification import LIMITS, SAMPLING
from filmstress.lots.template import rivals_of, template
from tests.cli._run import run

TEXT = template()
# Lines that state a key when their sign is taken away, with the table they stand in.
_KEY = re.compile(r"# (\w+) = ")


def commented() -> list[tuple[int, str, str]]:
    found, table = [], ""
    for number, line in enumerate(TEXT.splitlines()):
        if head := re.match(r"\[+(\w+)\]+", line):
            table = head.group(1)
        if key := _KEY.match(line):
            found.append((number, table, key.group(1)))
    return found


def test_it_reads_back(tmp_path: Path) -> None:
    lot = read_lot(_written(tmp_path, TEXT))
    assert lot.lot == "K7-0412"
    assert lot.specification is not None
    assert lot.wafers[0].film.thickness is not None
    assert lot.wafers[0].film.thickness.value == pytest.approx(500e-9)


def _written(folder: Path, text: str) -> Path:
    path = folder / "lot.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("number", "table", "key"), commented(), ids=str)
def test_each_comment_is_a_key_that_reads(
    tmp_path: Path, number: int, table: str, key: str
) -> None:
    lines = TEXT.splitlines()
    lines[number] = lines[number].removeprefix("# ")
    rivals = rivals_of(table, key)
    pairs = {"youngs_modulus": "poisson_ratio", "poisson_ratio": "youngs_modulus"}
    needed = (pairs | {"density": "modulus"}).get(key)
    inside = ""
    for i, line in enumerate(lines):
        inside = head.group(1) if (head := re.match(r"\[+(\w+)\]+", line)) else inside
        if inside != table or i == number:
            continue
        if line.partition(" ")[0] in rivals:
            lines[i] = f"# {line}"
        elif line.startswith(f"# {needed} = "):
            lines[i] = line.removeprefix("# ")
    if key.startswith("weight_"):
        # The bare scans want one another, and two supports that are known.
        lines[number] += '\nweight_second_support = "rim"\nsupport_radius = "50 mm ± 0.2 mm"'
        lines[number] += '\nweight_second = "rim.csv"' if key == "weight_first" else ""
    text = "\n".join(lines)
    if key == "wafers":
        text = text[: text.index("\n[[wafer]]")]
        (tmp_path / "wafers.csv").write_text("wafer,pre,post\n01,a.csv,b.csv\n")
    read_lot(_written(tmp_path, text))


def test_every_key_is_in_it_once() -> None:
    stated = tomllib.loads(re.sub(r"(?m)^# (?=\w+ = )", "", TEXT.replace("# wafers", "#  wafers")))
    for key in all_keys():
        place = stated["wafer"][0] if key.table == "wafer" else stated[key.table]
        if key.name != "azimuth":
            assert key.name in place, key.full_name
    assert set(stated["specification"]) == {*LIMITS, "sampling"}
    assert set(stated["specification"]["sampling"]) == set(SAMPLING)
    assert all("azimuth" in scan for scan in stated["wafer"][0]["scans"])


def test_the_command_prints_it() -> None:
    ended = run("lot", "--template")
    assert (ended.code, ended.out, ended.err) == (0, TEXT, "")
    assert run("lot", "--template", "lot.toml").code == 2
