"""Comparisons, sweeps and gauge studies from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.cli._run import Ended, run
from tests.history.made import record

PRESSURES = (0.4, 0.5, 0.6, 0.7, 0.8)


@pytest.fixture
def recipes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Recipe a moves with pressure, b does not and lies 60 MPa lower; c is tensile."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FILMSTRESS_HISTORY", str(tmp_path / "history.sqlite"))
    rng = np.random.default_rng(5)
    number, names = 0, []
    for recipe, base, slope in (("a", -200e6, 3e8), ("b", -260e6, 0.0), ("c", 150e6, 0.0)):
        for pressure in PRESSURES:
            number += 1
            lot = base + slope * (pressure - 0.6) + 4e6 * rng.normal()
            made = record(
                number,
                lot=f"{recipe}{number}",
                recipe=recipe,
                stresses=tuple(lot + 2e6 * rng.normal(size=2)),
                pressure=pressure,
            )
            names.append(f"{number}.json")
            (tmp_path / names[-1]).write_text(json.dumps(made), encoding="utf-8")
    assert run("history", "import", *names).code == 0
    return tmp_path


def done(*arguments: str) -> Ended:
    ended = run(*arguments)
    assert ended.code == 0, ended.err
    return ended


def test_a_difference_counts_lots_and_loses_the_gauge(recipes: Path) -> None:
    data = done("compare", "b", "c", "--json").data
    assert [len(one["stresses"]["values"]) for one in data["selections"]] == [5, 5]
    low, high = data["differences"][0]["interval"]
    assert low < -410e6 < high
    shared = [row for row in data["budget"] if row["common_to"] == "gauge"]
    # The made lots share an offset of 1 MPa: alike in both, it is gone.
    assert shared[0]["contribution"] == pytest.approx(0.0, abs=1.0)
    assert data["shared_if_independent"]["value"] == pytest.approx(2**0.5 * 1e6, rel=1e-6)


def test_words_say_which_way(recipes: Path) -> None:
    assert "b is more compressive than a" in done("compare", "b", "a").out
    assert "c is farther toward tension than b" in done("compare", "c", "b").out


@pytest.mark.parametrize(
    ("margin", "told"), [("20 MPa", "not equivalent"), ("1 GPa", "equivalent")]
)
def test_margin(recipes: Path, margin: str, told: str) -> None:
    data = done("compare", "b", "c", "--margin", margin, "--json").data
    assert data["differences"][0]["verdict"] == told


def test_more_than_two_hold_all_at_once(recipes: Path) -> None:
    ended = done("compare", "a", "b", "c", "--csv")
    assert len(ended.out.splitlines()) == 4
    assert "hold all at once" in done("compare", "a", "b", "c").out


def test_single_lots_are_compared_by_wafers_and_it_is_said(recipes: Path) -> None:
    assert "Single lots are compared" in done("compare", "a@a1", "lot:b6").out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("a",), "two or more"),
        (("a", "a"), "named twice"),
        (("a", "tool:PX-2"), "both hold entry"),
        (("a", "nothing"), "fits no wafer"),
        (("a", "lot:b6"), "at least two lots"),
        (("a", "b", "--margin", "20 MPa ± 1 MPa"), "uncertainty"),
        (("a", "b", "--margin", "0 MPa"), "above 0"),
    ],
)
def test_refused(recipes: Path, words: tuple[str, ...], told: str) -> None:
    ended = run("compare", *words)
    assert ended.code != 0
    assert told in ended.err


def test_a_sweep_finds_the_setting(recipes: Path) -> None:
    words = ("sweep", "a", "--parameter", "pressure", "--target", "-200 MPa")
    setting = done(*words, "--json").data["setting"]
    low, high = setting["ends"]["values"]
    assert setting["bounded"]
    assert not setting["extrapolated"]
    assert low < 0.6 < high
    assert "set pressure to" in done(*words).out


def test_a_sweep_without_a_slope_recommends_nothing(recipes: Path) -> None:
    told = done("sweep", "b", "--parameter", "pressure", "--target", "-200 MPa").out
    assert "No setting is recommended" in told
    assert "unbounded" in told


def test_an_unknown_parameter_names_the_known(recipes: Path) -> None:
    ended = run("sweep", "a", "--parameter", "pressur")
    assert ended.code != 0
    assert "they state: pressure" in ended.err


def restate(folder: Path, quantities: list[tuple[str, float, str]], name: str) -> None:
    """Keep five more lots of a recipe of this name, whose setting is stated so."""
    names = []
    for number, (text, value, unit) in enumerate(quantities):
        stress = 3e8 * (number - 2) + 4e6 * (-1) ** number
        made = record(70 + number, lot=f"{name}{number}", recipe=name, stresses=(stress,))
        inputs = made["results"]["inputs"]
        inputs["deposition"]["pressure"] = text
        inputs["deposition_quantities"]["pressure"] |= {"value": value, "unit": unit}
        names.append(f"{name}{number}.json")
        made["sha256"] = f"{made['sha256'][:-2]}{name[:2]}"
        (folder / names[-1]).write_text(json.dumps(made), encoding="utf-8")
    done("history", "import", *names)


# 1 Torr = 101325/760 Pa (ISO 80000-4, annex).
MTORR_PA = 101.325 / 760.0
IN_MTORR = [(f"{p} mTorr", p * MTORR_PA, "Pa") for p in (400, 500, 600, 700, 800)]
IN_DEGC = [(f"{t} degC", t + 273.15, "K") for t in (300, 320, 340, 360, 380)]
BARE = [(f"{n}", float(n), "1") for n in (1, 2, 3, 4, 5)]


def sweep_of(name: str, *more: str) -> Ended:
    return done("sweep", name, "--parameter", "pressure", *more)


def test_settings_are_shown_as_the_lots_state_them(recipes: Path) -> None:
    restate(recipes, IN_MTORR, "torr")
    told = sweep_of("torr").out
    assert "no stress at pressure 600 mTorr" in told
    assert "for 1 mTorr" in told
    assert " Pa" not in told
    zero = sweep_of("torr", "--json").data["zero_crossing"]["estimate"]
    assert zero["unit"] == "Pa"
    assert zero["value"] == pytest.approx(600.0 * MTORR_PA, rel=0.01)


def test_the_unit_of_settings_may_be_chosen(recipes: Path) -> None:
    restate(recipes, IN_MTORR, "torr")
    told = sweep_of("torr", "--setting-unit", "Pa").out
    assert "no stress at pressure 80 Pa" in told
    assert "mTorr" not in told
    ended = run("sweep", "torr", "--parameter", "pressure", "--setting-unit", "W")
    assert ended.code == 3
    assert "'W' is no unit for 'pressure'" in ended.err
    assert "mTorr" in ended.err


def test_lots_that_state_it_in_two_words_are_named(recipes: Path) -> None:
    mixed = [*IN_MTORR[:3], *((f"{value} Pa", value, "Pa") for _, value, _ in IN_MTORR[3:])]
    restate(recipes, mixed, "torr")
    told = sweep_of("torr").out
    assert "lots state pressure in mTorr and Pa" in told
    assert "no stress at pressure 600 mTorr" in told


def test_a_temperature_in_degc_has_steps_in_kelvin(recipes: Path) -> None:
    restate(recipes, IN_DEGC, "warm")
    told = sweep_of("warm").out
    assert "no stress at pressure 340 degC" in told
    # 300 MPa for 20 degC.
    assert "MPa for 1 K" in told
    assert "+15" in told


def test_a_bare_number_has_no_unit(recipes: Path) -> None:
    restate(recipes, BARE, "bare")
    told = sweep_of("bare", "--target", "-100 MPa").out
    assert "300" in told
    assert "for 1\n" in told
    assert "set pressure to 2.6" in told


@pytest.mark.parametrize(
    "words",
    [("compare", "a", "b", "c", "--margin", "20 MPa"), ("sweep", "a", "--parameter", "pressure")],
)
def test_figures_are_drawn(recipes: Path, words: tuple[str, ...]) -> None:
    done(*words, "--figure", "out.png")
    assert (recipes / "out.png").read_bytes().startswith(b"\x89PNG")


def test_a_study_states_the_repeatability(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    lines = ["wafer;loading;bow [um]"]
    for wafer in range(8):
        level = 10.0 * rng.normal()
        for loading in range(4):
            on = level + 0.03 * rng.normal()
            lines += [f"{wafer};{loading};{on + 0.02 * rng.normal():.5f}" for _ in range(3)]
    path = tmp_path / "study.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    data = done("gauge", str(path), "--tolerance", "40 um", "--json").data
    assert data["shape"] == [8, 4, 3]
    assert not data["crossed"]
    low, high = data["gauge"]["interval"]
    assert low < (0.03**2 + 0.02**2) ** 0.5 * 1e-6 < high
    assert data["tolerance_share"] == pytest.approx(6 * data["bow_repeatability"]["value"] / 40e-6)
    assert 'bow_repeatability = "' in done("gauge", str(path)).out


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wafer,bow [um]\n1,2\n2,4\n", "none was read twice"),
        ("wafer,bow [s]\n1,2\n", "neither of length nor of stress"),
        ("bow [um]\n1\n", "columns"),
        ("", "no readings"),
        ("wafer,bow [um]\n1,x\n", "row 2"),
        ("wafer,bow [um]\n1,2\n1,2\n2,2\n2,2\n", "never differ"),
    ],
)
def test_a_study_that_cannot_be_used(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "study.csv"
    path.write_text(text, encoding="utf-8")
    ended = run("gauge", str(path))
    assert ended.code != 0
    assert told in ended.err
