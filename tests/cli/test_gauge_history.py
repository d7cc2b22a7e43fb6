"""Studies of a gauge on what the history holds."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli._contract import check
from tests.cli._run import Ended, run
from tests.history.made import record


def done(*arguments: str) -> Ended:
    ended = run(*arguments)
    assert ended.code == 0, ended.err
    return ended


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILMSTRESS_HISTORY", str(tmp_path / "history.sqlite"))
    return tmp_path


STRESSES = np.array([[-200.0, -198.0], [-213.0, -210.0], [-190.0, -193.0]]) * 1e6


def write_records(place: Path, *, scans: dict[int, str], pre: str = "") -> None:
    """The same three wafers measured twice, by two operators; ``scans`` names the files."""
    names = []
    for number in (0, 1):
        made = record(number, lot="K7", recipe="a", stresses=tuple(STRESSES[:, number]))
        for wafer in made["results"]["wafers"]:
            label = {"operator": "AB"[number]}
            told = f"{scans[number]}{wafer['id']}"
            files = [{"state": "post", "sha256": told}]
            if pre:
                files.append({"state": "pre", "sha256": pre + wafer["id"]})
            wafer["inputs"] |= {"lines": [{"pre": {}, "post": label}], "files": files}
        names.append(f"{number}.json")
        (place / names[-1]).write_text(json.dumps(made), encoding="utf-8")
    done("history", "import", *names)


def test_wafers_recorded_twice_are_a_study(kept: Path) -> None:
    """Two-way without repeats: sums of squares by hand."""
    write_records(kept, scans={0: "x", 1: "y"}, pre="p")
    data: dict[str, Any] = done("gauge", "--recipe", "a", "--json").data
    check(data)
    assert (data["reading"], data["between"], data["shape"]) == ("stress", "operator", [3, 2, 1])
    y = STRESSES
    rest = y - y.mean(axis=1, keepdims=True) - y.mean(axis=0) + y.mean()
    variance = float((rest**2).sum()) / 2.0
    found = data["repeatability"]["standard_deviation"]["value"]
    assert found == pytest.approx(math.sqrt(variance))
    assert data["bow_repeatability"] is None
    told = " ".join(data["remarks"])
    assert "3 of 3 recorded wafers" in told
    assert "share the scan before deposition" in told
    assert "cancels in their differences" in told
    alone = done("gauge", "--recipe", "a").out
    assert "cannot be told from chance here" in re.sub(r"\s+", " ", alone)


def test_one_lot_through_two_recipes_is_two_studies_of_wafers(kept: Path) -> None:
    """Wafers of one name that bear two films are not repeats of each other."""
    for turn, recipe in enumerate(("a", "b")):
        made = [
            record(
                10 * turn + number,
                lot="K7",
                recipe=recipe,
                stresses=tuple(STRESSES[:, number] + turn * 5e8),
            )
            for number in (0, 1)
        ]
        for number, one in enumerate(made):
            limits = one["results"]["inputs"]["specification"]
            limits["upper"] = limits["lower"] | {"value": limits["lower"]["value"] + 1e8}
            path = kept / f"{recipe}{number}.json"
            path.write_text(json.dumps(one), encoding="utf-8")
            done("history", "import", str(path))
    alone = done("gauge", "--recipe", "a", "--json").data
    both = done("gauge", "--lot", "K7", "--json").data
    names = [f"{recipe}/{wafer}" for recipe in "ab" for wafer in "123"]
    assert sorted(set(both["readings"]["wafers"])) == names
    # The same scatter twice: its pooled standard deviation is that of either.
    assert both["repeatability"]["standard_deviation"]["value"] == pytest.approx(
        alone["repeatability"]["standard_deviation"]["value"]
    )
    assert alone["tolerance"]["value"] == pytest.approx(1e8)
    assert both["tolerance"] is None


def test_computing_again_is_not_measuring_again(kept: Path) -> None:
    write_records(kept, scans={0: "x", 1: "x"})
    ended = run("gauge", "--recipe", "a")
    assert ended.code == 3
    assert "none was measured twice (3 records compute the scans of another again)" in ended.err


def test_a_history_without_repeats_says_so(kept: Path) -> None:
    (kept / "one.json").write_text(json.dumps(record(1, recipe="a")), encoding="utf-8")
    done("history", "import", "one.json")
    ended = run("gauge", "--recipe", "a")
    assert ended.code == 3
    assert "2 wafers with a stress are recorded here, and none was measured twice" in ended.err
    assert "record them under the same lot" in ended.err
    assert "no recorded wafer with a stress fits" in run("gauge", "--recipe", "b").err
