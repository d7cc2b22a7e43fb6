"""Control charts from the command line."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from filmstress.history.store import open_history
from filmstress.history.writing import keep
from tests.cli import _contract
from tests.cli._run import run
from tests.history import made

# 25 lots that scatter by a few MPa, then six that lie 12 MPa higher.
MEANS = [-201e6, -199e6, -203e6, -201e6, -197e6] * 5 + [-189e6, -186e6, -191e6] * 2


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A history of one recipe with 31 lots, and of another with two."""
    path = str(tmp_path_factory.mktemp("chart") / "history.sqlite")
    history = open_history(path, create=True)
    for i, mean in enumerate(MEANS, start=1):
        stresses = (mean - 2e6, mean + (2e6 if i % 2 else 1e6))
        date = f"2026-{3 + (i - 1) // 28:02d}-{1 + (i - 1) % 28:02d}"
        keep(history, made.lot(i, lot=f"A{i}", date=date, stresses=stresses))
    for i in (91, 92):
        keep(history, made.lot(i, lot=f"B{i}", recipe="young", stresses=(-1e8, -2e8)))
    history.close()
    return path


def test_words_say_what_happened_and_when(place: str) -> None:
    ended = run(
        "chart", "nitride", "--history", place, "--baseline", "25", "--rules", "western-electric"
    )
    assert (ended.code, ended.err) == (0, "")
    told = " ".join(ended.out.split())
    assert "since lot A26, 2026-03-26: 6 lots farther than 2 sigma above the centre line" in told
    assert "baseline 25 lots, A1 (2026-03-01) to A25 (2026-03-25)" in told
    # Western Electric's four rules together: C. W. Champ, W. H. Woodall (1987), 91.75.
    assert "a false alarm of the means once in 92 lots on average" in told
    assert "three-way" in told
    assert "provisional" not in told
    assert "specification at least −250 MPa" in told
    assert "Cpk" in told
    assert "Cp " not in told
    assert max(map(len, ended.out.splitlines())) <= 96


def test_without_run_rules_the_limits_alone_signal(place: str) -> None:
    ended = run("chart", "nitride", "--history", place, "--baseline", "20")
    told = " ".join(ended.out.split())
    assert "what signals a point beyond a control limit in a process" in told
    # 1 / 0.0026998, of the normal law.
    assert "once in 370 lots" in told
    assert "The limits are provisional: they stand on 20 lots" in told


@pytest.mark.parametrize("kind", ["individuals", "three-way", "xbar-r", "xbar-s", "ewma", "cusum"])
def test_every_kind_in_every_form(place: str, kind: str, tmp_path: Path) -> None:
    words = ("chart", "nitride", "--history", place, "--kind", kind, "--baseline", "25")
    shown = run(*words)
    assert (shown.code, shown.err) == (0, "")
    data = run(*words, "--json").data
    _contract.check(data)
    assert (data["schema"], data["kind"]) == ("filmstress/chart/1", kind)
    assert len(data["lots"]) == 31
    assert data["events"]
    assert all(one["since"] >= "2026-03" for one in data["events"])
    rows = list(csv.reader(io.StringIO(run(*words, "--csv").out)))
    assert len(rows) == 32
    assert {len(row) for row in rows} == {len(rows[0])}
    mean = rows[0].index("mean_stress [Pa]")
    assert float(rows[2][mean]) == pytest.approx(-199.5e6)
    picture = tmp_path / "chart.svg"
    drawn = run(*words, "--figure", str(picture))
    assert drawn.code == 0
    assert "figure written" in drawn.err
    assert "A1" in picture.read_text(encoding="utf-8")


# k, h: an average run of 370 in control. NIST/SEMATECH e-Handbook, 6.3.2.3; h to 0.005.
@pytest.mark.parametrize(("k", "h"), [("0.25", "8.01"), ("0.75", "3.34"), ("1", "2.52")])
def test_sums_may_be_set_and_tell_their_run_length(place: str, k: str, h: str) -> None:
    words = ("chart", "nitride", "--history", place, "--kind", "cusum", "--baseline", "25")
    words = (*words, "--cusum-reference", k, "--cusum-decision", h)
    data = run(*words, "--json").data
    _contract.check(data)
    assert data["lots_between_false_alarms"]["average"] == pytest.approx(370.0, rel=0.015)
    assert data["settings"]["decision_interval"] == float(h)
    sigma = data["sigma"]["value"]
    assert data["sums"]["threshold"]["value"] == pytest.approx(float(h) * sigma)
    told = " ".join(run(*words).out.split())
    assert f"decision interval of {h} sigma; reference value {k} sigma" in told
    assert "a lasting shift of 1 sigma is seen after" in told


def test_the_average_may_be_set_and_tells_its_run_length(place: str) -> None:
    """Average runs of 500 without a shift and 10.3 at 1 sigma, of weight 0.1 and limit 2.814.

    J. M. Lucas and M. S. Saccucci, Technometrics 32 (1990) 1, doi:10.1080/00401706.1990.10484583,
    table 3; from memory.
    """
    words = ("chart", "nitride", "--history", place, "--kind", "ewma", "--baseline", "25")
    words = (*words, "--ewma-weight", "0.1", "--ewma-limit", "2.814", "--json")
    data = run(*words).data
    assert data["lots_between_false_alarms"]["average"] == pytest.approx(500.0, rel=0.01)
    assert data["settings"]["lots_until_seen"]["average"] == pytest.approx(10.3, abs=0.1)
    assert data["settings"]["weight"] == 0.1


def test_the_choice_is_of_lots(place: str) -> None:
    data = run("chart", "nitride", "--history", place, "--last", "6", "--json").data
    assert [one["lot"] for one in data["lots"]] == [f"A{i}" for i in range(26, 32)]
    data = run("chart", "nitride", "--history", place, "--until", "2026-03-10", "--json").data
    assert len(data["lots"]) == 10
    data = run("chart", "nitride", "--history", place, "--tool", "PX-9", "--json").data
    assert data["lots"] == []


def test_a_recipe_that_is_not_recorded_is_refused(place: str) -> None:
    ended = run("chart", "nitrid", "--history", place)
    assert (ended.code, ended.out) == (3, "")
    assert "no lot of the recipe 'nitrid' is recorded" in ended.err
    assert "nitride" in ended.err.splitlines()[-1]


def test_too_few_lots_are_said_and_are_no_error(place: str, tmp_path: Path) -> None:
    recipe = "young"
    ended = run("chart", recipe, "--history", place)
    assert ended.code == 0
    assert f"No control chart of '{recipe}' yet" in ended.out
    data = run("chart", recipe, "--history", place, "--json").data
    _contract.check(data)
    assert (data["kind"], data["charts"]) == (None, [])
    assert data["reason"]
    assert run("chart", recipe, "--history", place, "--csv").out.count("\n") == 1
    picture = tmp_path / "chart.png"
    assert run("chart", recipe, "--history", place, "--figure", str(picture)).code == 0
    assert not picture.exists()


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (["--kind", "pareto"], 2, "one of individuals"),
        (["--rules", "westgard"], 2, "western-electric"),
        (["--kind", "ewma", "--rules", "nelson"], 2, "run rules"),
        (["--ewma-weight", "0.1"], 2, "--kind ewma"),
        (["--kind", "ewma", "--cusum-decision", "5"], 2, "ask for --kind cusum"),
        (["--kind", "ewma", "--ewma-weight", "0"], 2, "from 0.01 to 1"),
        (["--kind", "cusum", "--cusum-decision", "nan"], 2, "from 0.1 to 40"),
        (["--baseline", "many"], 2, "2026-01-01..2026-03-31"),
        (["--baseline", "3"], 2, "at least 5"),
        (["--baseline", "400"], 3, "there are 31"),
        (["--baseline", "2020-01-01..2020-02-01"], 3, "0 lots"),
        (["--since", "yesterday"], 2, "no date"),
        (["--figure", "chart.bmp"], 2, ".png"),
        (["--json", "--csv"], 2, "exclude"),
        (["--last", "0"], 2, "--last"),
    ],
)
def test_what_is_wrong_is_said(place: str, words: list[str], code: int, told: str) -> None:
    ended = run("chart", "nitride", "--history", place, *words)
    assert ended.code == code
    assert told in ended.err
    assert not ended.out
