"""Studies of a gauge: tables, repeated scans, a lot file, the figure."""

from __future__ import annotations

import csv
import io
import math
import re
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import chi2

from filmstress.cli.program import COMMANDS
from filmstress.records.scan import HeightMap, ScanSource
from filmstress.simulate.pair import simulate_pair
from filmstress.simulate.truth import Truth
from filmstress.simulate.writing import write_scan
from tests.cli._contract import check
from tests.cli._run import Ended, run
from tests.measure._maps import write_sdf

BOW_REPEATABILITY = 40e-9
WAFERS, OPERATORS, REPEATS = 4, "AB", 3
NO_SOURCE = ScanSource("map", "0" * 64, "m", "m", "x", "z", 0)


def done(*arguments: str) -> Ended:
    ended = run(*arguments)
    assert ended.code == 0, ended.err
    return ended


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lot whose lines are scanned six times, with a bow of 40 nm drawn anew for each scan."""
    folder = tmp_path_factory.mktemp("scanned")
    lot = [
        'lot = "R1"\n[substrate]\nmaterial = "Si(001)"\nthickness = "675 um"\n'
        '[film]\nthickness = "500 nm"\n'
    ]
    table = ["wafer,operator,scan"]
    for wafer in range(WAFERS):
        truth = Truth(
            substrate_thickness_m=675e-6,
            diameter_m=0.15,
            stress_x_pa=(180 + 20 * wafer) * 1e6,
            film_thickness_m=500e-9,
            scan_length_m=0.1,
            points=301,
            bare_bow_m=4e-6,
            white_noise_m=5e-9,
            bow_repeatability_m=BOW_REPEATABILITY,
            seed=10 + wafer,
        )
        lines = []
        for repeat in range(REPEATS * len(OPERATORS)):
            pair = simulate_pair(truth, repeat=repeat)
            names = {}
            for state, trace in (("pre", pair.pre_trace), ("post", pair.post_trace)):
                names[state] = f"{wafer}-{repeat}-{state}.csv"
                write_scan(trace.x, trace.z, folder / names[state])
            operator = OPERATORS[repeat // REPEATS]
            table.append(f"{wafer},{operator},{names['post']}")
            lines.append(
                f'{{ azimuth = "{180 * (repeat % 2)} deg", operator = "{operator}", '
                f'pre = "{names["pre"]}", post = "{names["post"]}" }},'
            )
        lot += [f'[[wafer]]\nid = "{wafer}"\nscans = [', *lines, "]\n"]
    (folder / "lot.toml").write_text("\n".join(lot), encoding="utf-8")
    (folder / "scans.csv").write_text("\n".join(table), encoding="utf-8")
    return folder


def test_scans_of_a_lot_repeat_as_drawn(scanned: Path) -> None:
    """The scatter of n - 4 means about 40 nm; outside these bounds one in 10^4 right programs."""
    data = done("gauge", str(scanned / "lot.toml"), "--json").data
    check(data)
    assert (data["reading"], data["between"], data["shape"]) == ("bow", "operator", [4, 2, 3])
    assert data["bow_length"]["value"] == pytest.approx(0.1, rel=1e-3)
    found = data["repeatability"]["standard_deviation"]["value"]
    dof = data["repeatability"]["degrees_of_freedom"]
    low, high = (math.sqrt(chi2.ppf(q, dof) / dof) for q in (5e-5, 1.0 - 5e-5))
    assert low < found / BOW_REPEATABILITY < high


def test_a_table_of_scans_reads_the_same(scanned: Path) -> None:
    of_lot = done("gauge", str(scanned / "lot.toml"), "--json").data
    of_table = done("gauge", str(scanned / "scans.csv"), "--json").data
    assert of_table["readings"] == of_lot["readings"]
    assert of_table["gauge"] == of_lot["gauge"]


def test_readings_are_those_of_inspect_over_the_shortest_scan(
    scanned: Path, tmp_path: Path
) -> None:
    """A scan cut to 80 mm: all bows are over 80 mm, with each scan's own curvature."""
    names = [f"{wafer}-{repeat}-post.csv" for wafer in (0, 1) for repeat in (0, 1)]
    for name in names:
        (tmp_path / name).write_bytes((scanned / name).read_bytes())
    head, *rows = (tmp_path / names[0]).read_text(encoding="utf-8").splitlines()
    (tmp_path / names[0]).write_text("\n".join([head, *rows[30:-30]]), encoding="utf-8")
    table = "wafer,scan\n" + "\n".join(f"{name[0]},{name}" for name in names)
    (tmp_path / "scans.csv").write_text(table, encoding="utf-8")
    data = done("gauge", str(tmp_path / "scans.csv"), "--json").data
    inspected = done("inspect", *(str(tmp_path / name) for name in names), "--json").data
    lengths = [one["length"]["value"] for one in inspected["scans"]]
    shortest = data["bow_length"]["value"]
    assert shortest == pytest.approx(min(lengths))
    assert shortest == pytest.approx(0.08, rel=0.01)
    bows = [one["curvature"]["value"] * shortest**2 / 8.0 for one in inspected["scans"]]
    assert data["readings"]["values"]["values"] == pytest.approx(bows, rel=1e-9)
    assert any("80 to 100 mm long" in told for told in data["remarks"])


def test_scans_before_deposition_are_another_study(scanned: Path) -> None:
    before = done("gauge", str(scanned / "lot.toml"), "--state", "pre", "--json").data
    assert max(before["readings"]["values"]["values"]) < 5e-6
    assert "before deposition" in done("gauge", str(scanned / "lot.toml"), "--state", "pre").out


def test_the_setting_is_one_that_a_lot_file_takes(scanned: Path) -> None:
    """Its ± becomes the degrees of freedom again: u = s / sqrt(2 dof), JCGM 100:2008, G.3."""
    path = scanned / "lot.toml"
    data = done("gauge", str(path), "--json").data
    setting = data["bow_repeatability_setting"]
    assert setting in done("gauge", str(path)).out
    stated = scanned / "stated.toml"
    text = path.read_text(encoding="utf-8").replace("[film]", f"[scan]\n{setting}\n[film]")
    head, first, *_ = text.split("[[wafer]]")
    stated.write_text(f"{head}[[wafer]]{first}", encoding="utf-8")
    lot = done("lot", str(stated), "--json", "--jobs", "1").data
    rows = [one for one in lot["wafers"][0]["budget"] if one["input"].startswith("bow repeat")]
    # Two scans a line, of one stated repeatability.
    sd, dof = data["gauge"]["standard_deviation"]["value"], data["gauge"]["degrees_of_freedom"]
    assert rows[0]["standard_uncertainty"] == pytest.approx(math.sqrt(2.0) * sd, rel=0.05)
    assert rows[0]["degrees_of_freedom"] == pytest.approx(dof, rel=0.1)


def test_one_file_is_no_repeat(scanned: Path) -> None:
    name = "0-0-post.csv"
    (scanned / "copy.csv").write_bytes((scanned / name).read_bytes())
    table = scanned / "twice.csv"
    table.write_text(f"wafer,scan\n0,{name}\n0,copy.csv\n1,1-0-post.csv\n", encoding="utf-8")
    ended = run("gauge", str(table))
    assert ended.code == 3
    assert "it is no repeat" in ended.err


def test_one_scan_is_no_repeat_by_whatever_it_is_named(scanned: Path) -> None:
    """One line of a map from either end; one trace of a file by its number and by its name."""
    x = np.linspace(-0.04, 0.04, 41)
    height_map = HeightMap(x, x, 2e-6 * np.hypot(*np.meshgrid(x, x)) ** 2 / 0.04**2, NO_SOURCE)
    write_sdf(scanned / "map.sdf", height_map)
    columns = np.column_stack([x, x**2, 2.0 * x**2])
    table = scanned / "side.csv"
    np.savetxt(table, columns, delimiter=",", header="x [m],one [m],two [m]", comments="")
    head = (scanned / "lot.toml").read_text(encoding="utf-8").split("[[wafer]]")[0]
    for entries in (
        ("azimuth = '0 deg', post = 'map.sdf'", "azimuth = '180 deg', post = 'map.sdf'"),
        ("post = 'side.csv', trace = '2'", "post = 'side.csv', trace = 'two'"),
    ):
        scans = ", ".join(f"{{ pre = 'none.csv', {entry} }}" for entry in entries)
        lot = scanned / "one.toml"
        lot.write_text(f'{head}[[wafer]]\nid = "1"\nscans = [{scans}]\n', encoding="utf-8")
        ended = run("gauge", str(lot))
        assert ended.code == 3
        assert "it is no repeat" in ended.err


def test_every_scan_that_cannot_be_read_is_named(scanned: Path) -> None:
    table = scanned / "missing.csv"
    table.write_text("wafer,scan\n0,none.csv\n0,nothing.csv\n", encoding="utf-8")
    ended = run("gauge", str(table))
    assert ended.code == 3
    assert "none.csv" in ended.err
    assert "nothing.csv" in ended.err


def readings(
    place: Path, *, leave_out: tuple[int, ...] = (), wafers: int = 6, heads: str = "bow [um]"
) -> str:
    """A study by three operators, who read each wafer twice, without some rows."""
    rng = np.random.default_rng(3)
    shift = 0.02 * rng.normal(size=3)
    rows = [
        f"{w},{o},{w + shift[i] + 0.02 * rng.normal():.4f}"
        for w in range(wafers)
        for i, o in enumerate("ABC")
        for _ in range(2)
    ]
    kept = [row for number, row in enumerate(rows) if number not in leave_out]
    path = place / "study.csv"
    path.write_text("\n".join([f"wafer,operator,{heads}", *kept]), encoding="utf-8")
    return str(path)


def test_a_study_need_not_be_balanced(tmp_path: Path) -> None:
    whole = done("gauge", readings(tmp_path), "--json").data
    path = readings(tmp_path, leave_out=(0, 1, 7))
    found = done("gauge", path, "--json").data
    check(found)
    assert (whole["balanced"], found["balanced"], found["shape"]) == (True, False, None)
    for name in ("gauge", "repeatability", "wafers"):
        sds = [one[name]["standard_deviation"]["value"] for one in (whole, found)]
        assert sds[1] == pytest.approx(sds[0], rel=0.3)
    told = re.sub(r"\s+", " ", done("gauge", path).out)
    assert "not balanced" in told
    assert "1 combination without one" in told


def test_a_blank_reading_is_a_missing_one(tmp_path: Path) -> None:
    path = Path(readings(tmp_path))
    text = path.read_text(encoding="utf-8")
    left_out = Path(readings(tmp_path, leave_out=(4,))).read_text(encoding="utf-8")
    lines = text.splitlines()
    lines[5] = lines[5].rpartition(",")[0] + ","
    path.write_text("\n".join(lines), encoding="utf-8")
    blank = done("gauge", str(path), "--json").data
    path.write_text(left_out, encoding="utf-8")
    assert blank["gauge"] == done("gauge", str(path), "--json").data["gauge"]


def test_ten_scans_of_one_wafer_state_the_repeatability(tmp_path: Path) -> None:
    """s with n - 1 degrees of freedom, and its chi-square interval."""
    bows = [12.01, 12.05, 11.98, 12.02, 12.07, 11.99, 12.03, 12.0, 12.04, 11.97]
    path = tmp_path / "one.csv"
    path.write_text("wafer,bow [um]\n" + "\n".join(f"1,{b}" for b in bows), encoding="utf-8")
    data = done("gauge", str(path), "--json").data
    sd = float(np.std(bows, ddof=1)) * 1e-6
    assert data["gauge"]["standard_deviation"]["value"] == pytest.approx(sd)
    assert data["gauge"]["degrees_of_freedom"] == pytest.approx(9.0)
    ends = [sd * math.sqrt(9.0 / chi2.ppf(q, 9)) for q in (0.975, 0.025)]
    assert data["gauge"]["interval"] == pytest.approx(ends, rel=0.01)
    assert data["wafers"] is None
    assert data["gauge_share"] is None
    assert "bow_repeatability" in done("gauge", str(path)).out


def test_limits_are_a_width(tmp_path: Path) -> None:
    path = readings(tmp_path)
    by_width = done("gauge", path, "--tolerance", "4 um", "--json").data
    limits = done("gauge", path, "--lower", "-1 um", "--upper", "3 um", "--json").data
    assert limits["tolerance_share"] == by_width["tolerance_share"]
    low, high = limits["tolerance_share_interval"]
    assert low < limits["tolerance_share"] < high


def test_the_table_holds_every_component(tmp_path: Path) -> None:
    path = readings(tmp_path)
    data = done("gauge", path, "--json").data
    rows = list(csv.DictReader(io.StringIO(done("gauge", path, "--csv").out)))
    found = {row["component"]: float(row["standard_deviation [m]"]) for row in rows}
    assert found["gauge"] == data["gauge"]["standard_deviation"]["value"]
    assert found["total"] == data["total"]["value"]
    apart = [name for name in found if name not in {"gauge", "total"}]
    assert sum(found[name] ** 2 for name in apart) == pytest.approx(found["total"] ** 2)


@pytest.mark.parametrize(
    ("rows", "words", "told"),
    [
        ("1,A,1\n2,A,2\n3,B,3", (), "none was read twice"),
        ("1,A,1\n1,A,2\n2,B,2\n2,B,3", ("--between", "operator"), "cannot be told from wafers"),
        ("1,A,1\n1,A,2\n2,A,2\n2,A,3", ("--between", "operator"), "the same operator"),
        ("1,A,1\n1,A,2\n2,,2\n2,A,3", ("--between", "operator"), "1 of 4 readings have no"),
        ("1,A,1\n1,A,2\n2,B,2\n2,B,3", ("--between", "date"), "operator"),
        ("1,A,1\n1,A,2\n,B,2", (), "names no wafer"),
        ("1,A,1\n1,A,2", ("--state", "pre"), "about a lot file"),
        ("1,A,1\n1,A,2", ("--recipe", "a"), "asks the history"),
        ("1,A,1\n1,A,2", ("--lower", "1 um"), "a width wants both"),
        ("1,A,1\n1,A,2", ("--lower", "1 um", "--upper", "0 um"), "is not above"),
        ("1,A,1\n1,A,2", ("--lower", "1 um", "--tolerance", "1 um"), "exclude each other"),
        ("1,A,1\n1,A,2", ("--figure", "out.gif"), ".png"),
    ],
)
def test_what_cannot_be_asked(tmp_path: Path, rows: str, words: tuple[str, ...], told: str) -> None:
    path = tmp_path / "study.csv"
    path.write_text(f"wafer,operator,bow [um]\n{rows}\n", encoding="utf-8")
    ended = run("gauge", str(path), *words)
    assert ended.code in {2, 3}
    assert told in ended.err


def test_a_label_that_cannot_be_told_is_passed_over(tmp_path: Path) -> None:
    """Each wafer read by one operator only: their difference is the wafers'."""
    path = tmp_path / "study.csv"
    path.write_text("wafer,operator,bow [um]\n1,A,1\n1,A,1.1\n2,B,2\n2,B,2.2\n", encoding="utf-8")
    assert done("gauge", str(path), "--json").data["between"] is None


def test_neither_a_file_nor_a_part_of_the_history() -> None:
    ended = run("gauge")
    assert ended.code == 2
    assert "--recipe" in ended.err
    assert "gauge" in COMMANDS


def test_a_figure_that_cannot_be_written_is_refused_first(tmp_path: Path) -> None:
    missing = tmp_path / "none" / "out.svg"
    ended = run("gauge", readings(tmp_path), "--figure", str(missing))
    assert (ended.code, ended.out) == (3, "")
    assert f"{missing}: the figure cannot be written" in ended.err


@pytest.mark.parametrize("leave_out", [(), (0, 1, 7)])
def test_the_figure_is_drawn(tmp_path: Path, leave_out: tuple[int, ...]) -> None:
    path = tmp_path / "out.svg"
    done("gauge", readings(tmp_path, leave_out=leave_out), "--figure", str(path))
    drawn = path.read_text(encoding="utf-8")
    for told in ("repeats to", "operator A", "operators", "standard deviation", "bow ["):
        assert told in drawn
