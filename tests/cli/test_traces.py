"""``--trace`` and its lot keys: scans of one file shown, measured and kept apart."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from tests.cli._run import MEASURE, POST, PRE, SUBSTRATE, run


def both_in(path: Path) -> str:
    """The demo's scans before and after, one after the other in one file."""
    before, after = (Path(one).read_text(encoding="utf-8") for one in (PRE, POST))
    path.write_text(f"before\n{before}\nafter\n{after}", encoding="utf-8")
    return str(path)


def test_inspect_shows_all_scans_of_a_file(tmp_path: Path) -> None:
    file = both_in(tmp_path / "both.csv")
    ended = run("inspect", file, PRE, "--json")
    assert ended.code == 0
    scans = ended.data["scans"]
    assert [one["file"] for one in scans] == [file, file, PRE]
    assert [one["trace"] for one in scans] == [1, 2, None]
    assert [one["trace_name"] for one in scans] == ["before", "after", ""]
    apart = run("inspect", PRE, POST, "--json").data["scans"]
    for one, other in zip(scans, apart, strict=False):
        assert one["curvature"] == other["curvature"]
    text = run("inspect", file).out
    assert f"{file} #1  before" in text
    assert f"{file} #2  after" in text
    rows = list(csv.DictReader(io.StringIO(run("inspect", file, "--csv").out)))
    assert [(row["file"], row["trace"]) for row in rows] == [(file, "1"), (file, "2")]


@pytest.mark.parametrize("trace", ["2", "after", "After"])
def test_inspect_shows_the_scan_that_is_named(tmp_path: Path, trace: str) -> None:
    file = both_in(tmp_path / "both.csv")
    (scan,) = run("inspect", file, "--trace", trace, "--json").data["scans"]
    (alone,) = run("inspect", POST, "--json").data["scans"]
    assert scan["trace"] == 2
    assert scan["curvature"] == alone["curvature"]


def test_a_scan_that_cannot_be_used_is_refused_and_the_others_are_shown(tmp_path: Path) -> None:
    file = tmp_path / "both.csv"
    both_in(file)
    file.write_text(file.read_text(encoding="utf-8") + "short\n-50,0\n-49,0\n", encoding="utf-8")
    ended = run("inspect", str(file), "--json")
    assert ended.code == 3
    assert [one["trace"] for one in ended.data["scans"]] == [1, 2]
    (refused,) = ended.data["refused"]
    assert refused["file"] == str(file)
    assert f"{file} #3: has 2 points" in refused["message"]


def test_measure_asks_which(tmp_path: Path) -> None:
    file = both_in(tmp_path / "both.csv")
    ended = run("measure", file, file, *SUBSTRATE)
    assert ended.code == 3
    assert "holds 2 scans: 1 'before' (" in ended.err
    assert "2 'after' (" in ended.err
    assert "--trace 2" in ended.err
    assert "pre_trace" in ended.err


@pytest.mark.parametrize(("pre", "post"), [("1", "2"), ("before", "after")])
def test_measure_takes_both_from_one_file(tmp_path: Path, pre: str, post: str) -> None:
    file = both_in(tmp_path / "both.csv")
    traces = ("--pre-trace", pre, "--post-trace", post)
    ended = run("measure", file, file, *traces, *MEASURE[3:], "--json")
    assert ended.code == 0, ended.err
    apart = run(*MEASURE, "--json").data
    assert ended.data["stress"] == apart["stress"]
    assert [one["trace"] for one in ended.data["inputs"]["files"]] == [1, 2]


def test_one_scan_twice_is_no_measurement(tmp_path: Path) -> None:
    file = both_in(tmp_path / "both.csv")
    traces = ("--pre-trace", "2", "--post-trace", "after")
    ended = run("measure", file, file, *traces, *MEASURE[3:], "--json")
    assert ended.code == 3
    assert ended.data["refusal"]["code"] == "same-scan"
    assert "pre_trace and post_trace" in ended.data["refusal"]["message"]


LOT = """\
lot = "K7"
[substrate]
material = "Si(001)"
thickness = "675 um ± 2 um"
[film]
thickness = "500 nm ± 2 %"
"""


def test_a_lot_takes_both_from_one_file_and_its_datum_from_another(tmp_path: Path) -> None:
    both_in(tmp_path / "both.csv")
    scan = 'scans = [{ pre = "both.csv", post = "both.csv", pre_trace = "1", post_trace = "2" }]\n'
    (tmp_path / "lot.toml").write_text(LOT + '[[wafer]]\nid = "01"\n' + scan, encoding="utf-8")
    checked = run("lot", str(tmp_path / "lot.toml"), "--check")
    assert checked.code == 0, checked.err
    (wafer,) = run("lot", str(tmp_path / "lot.toml"), "--json").data["wafers"]
    apart = run(*MEASURE, "--json").data
    assert wafer["stress"]["value"] == pytest.approx(apart["stress"]["value"], rel=1e-9)

    flat = "".join(f"{x},0.0\n" for x in range(-70, 71))
    (tmp_path / "flat.csv").write_text("x [mm],z [um]\n" + flat, encoding="utf-8")
    with_flat = LOT + '[scan]\ndatum = "flat.csv"\n[[wafer]]\nid = "01"\n' + scan
    (tmp_path / "lot.toml").write_text(with_flat, encoding="utf-8")
    assert run("lot", str(tmp_path / "lot.toml"), "--check").code == 0
    (again,) = run("lot", str(tmp_path / "lot.toml"), "--json").data["wafers"]
    flat_file = ("--datum", str(tmp_path / "flat.csv"))
    apart = run(*MEASURE, *flat_file, "--json").data
    assert again["stress"]["value"] == pytest.approx(apart["stress"]["value"], rel=1e-9)


def test_a_wafer_table_names_them(tmp_path: Path) -> None:
    both_in(tmp_path / "both.csv")
    (tmp_path / "wafers.csv").write_text(
        "wafer,pre,post,pre_trace,post_trace\n01,both.csv,both.csv,before,after\n", encoding="utf-8"
    )
    lot = LOT.replace('"K7"\n', '"K7"\nwafers = "wafers.csv"\n')
    (tmp_path / "lot.toml").write_text(lot, encoding="utf-8")
    (wafer,) = run("lot", str(tmp_path / "lot.toml"), "--json").data["wafers"]
    assert wafer["stress"] is not None


@pytest.mark.parametrize(("first", "second"), [("1", "2"), ("2", "2")])
def test_two_wafers_may_share_a_file_but_no_scan(tmp_path: Path, first: str, second: str) -> None:
    both_in(tmp_path / "both.csv")
    wafers = "".join(
        f'[[wafer]]\nid = "{name}"\nbare_bow = "0 um ± 15 um"\n'
        f'scans = [{{ post = "both.csv", trace = "{trace}" }}]\n'
        for name, trace in (("01", first), ("02", second))
    )
    (tmp_path / "lot.toml").write_text(LOT + wafers, encoding="utf-8")
    told = [
        None if one["refusal"] is None else one["refusal"]["code"]
        for one in run("lot", str(tmp_path / "lot.toml"), "--json").data["wafers"]
    ]
    assert told == [None, None] if first != second else ["same-scan", "same-scan"]
