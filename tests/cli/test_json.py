"""The JSON contract of every command, held over the whole object."""

from __future__ import annotations

import hashlib
import json
import math
from pathlib import Path
from typing import Any

import pytest

from tests.cli._contract import QUANTITY, check, check_quantity, walk
from tests.cli._run import DEMO, FILM, MEASURE, NITRIDE, POST, PRE, SUBSTRATE, run

MEASURED = {
    "stress",
    "stress_by_direction",
    "stress_stoney",
    "force_per_width",
    "curvature_change",
    "curvature_pre",
    "curvature_post",
    "radius",
    "bow_change",
    "stress_mismatch",
    "registration",
    "fit",
    "budget",
    "warnings",
}
NOT_FOUND = ("stress", "stress_stoney", "stress_mismatch", "force_per_width")


@pytest.fixture(scope="module")
def measured() -> dict[str, Any]:
    ended = run(*MEASURE, "--json")
    assert (ended.code, ended.err) == (0, "")
    data: dict[str, Any] = ended.data
    return data


@pytest.mark.parametrize(
    "extra",
    [
        (),
        ("--film-modulus", "200 GPa"),
        ("--film-face", "down"),
        ("--window", "-30 mm..30 mm"),
        ("--offset", "0.3 mm ± 0.05 mm"),
        ("--bow-repeatability", "15 nm ± 5 nm (k=2, dof=9)"),
        ("--support", "rim", "--diameter", "150 mm"),
        ("--prove", "40"),
        ("--noise", "safe"),
    ],
    ids=" ".join,
)
def test_measure_keeps_the_contract(extra: tuple[str, ...]) -> None:
    ended = run(*MEASURE, *extra, "--json")
    assert ended.code == 0, ended.err
    check(ended.data)
    assert set(ended.data) >= MEASURED | {"schema", "filmstress", "inputs"}
    for name in ("stress", "force_per_width", "curvature_change", "bow_change"):
        assert set(ended.data[name]) == QUANTITY


def test_the_result_can_be_traced_to_its_files(measured: dict[str, Any]) -> None:
    files = measured["inputs"]["files"]
    assert [file["state"] for file in files] == ["pre", "post"]
    for file, path in zip(files, (PRE, POST), strict=True):
        assert file["sha256"] == hashlib.sha256(Path(path).read_bytes()).hexdigest()
    assert measured["inputs"]["substrate"]["thickness"]["value"] == pytest.approx(675e-6)
    assert measured["inputs"]["settings"]["film.thickness"] == FILM[1]


def test_numbers_agree_with_each_other(measured: dict[str, Any]) -> None:
    stress, force = measured["stress"], measured["force_per_width"]
    assert force["value"] == pytest.approx(stress["value"] * 500e-9, rel=1e-12)
    change = measured["curvature_change"]["value"]
    assert measured["radius"]["value"] == pytest.approx(1.0 / change, rel=1e-12)
    length = measured["fit"]["length"]["value"]
    assert measured["bow_change"]["value"] == pytest.approx(change * length**2 / 8.0, rel=1e-12)
    contributions = [row["contribution"] for row in measured["budget"]]
    assert math.hypot(*contributions) == pytest.approx(stress["standard_uncertainty"], rel=1e-9)
    assert measured["stress_by_direction"][0]["stress"] == stress
    assert measured["stress_by_direction"][0]["azimuth"]["value"] == 0.0
    # Stoney's plain equation by hand (Stoney 1909, biaxial form), with the modulus printed.
    stoney = measured["substrate"]["modulus"]["value"] * 675e-6**2 / (6 * 500e-9) * change
    assert measured["stress_stoney"]["value"] == pytest.approx(stoney, rel=1e-9)


def test_registration_says_where_the_second_scan_lies(measured: dict[str, Any]) -> None:
    found = measured["registration"]
    check_quantity(found["offset"])
    assert found["reversed"] is False
    assert 0.0 <= found["match"] <= 1.0


def test_budget_rows_name_what_is_shared(measured: dict[str, Any]) -> None:
    shared = {row["input"]: row["common_to"] for row in measured["budget"]}
    assert shared["substrate modulus"].startswith("table")
    assert shared["height scale"] == "gauge"
    assert shared["substrate thickness"] == "wafer"
    kinds = {row["input"]: row["evaluation"] for row in measured["budget"]}
    assert kinds["curvature fit"] == "A"
    assert kinds["substrate thickness"] == "B"


@pytest.mark.parametrize(
    ("extra", "code"),
    [(("--support", "clamped"), "clamped"), (("--film-faces", "both"), "both-faces")],
)
def test_a_refused_measurement_keeps_its_curvatures(extra: tuple[str, ...], code: str) -> None:
    ended = run(*MEASURE, *extra, "--json")
    assert ended.code == 3
    check(ended.data)
    assert set(ended.data) >= MEASURED
    assert ended.data["refusal"]["code"] == code
    assert ended.data["refusal"]["message"]
    assert all(ended.data[name] is None for name in NOT_FOUND)
    assert ended.data["stress_by_direction"] == []
    for name in ("curvature_change", "curvature_pre", "curvature_post"):
        check_quantity(ended.data[name])


def test_scans_that_cannot_be_compared_give_the_same_object_with_nothing_found() -> None:
    ended = run(*MEASURE, "--window", "100 mm..110 mm", "--json")
    assert ended.code == 3
    check(ended.data)
    assert set(ended.data) >= MEASURED
    assert ended.data["refusal"]["code"] == "too-few-points"
    assert ended.data["stress"] is None
    assert ended.err


def test_without_film_thickness_there_is_only_a_force() -> None:
    data = run("measure", PRE, POST, *SUBSTRATE, "--json").data
    check(data)
    assert data["stress"] is data["stress_stoney"] is data["refusal"] is None
    assert data["force_per_width"]["unit"] == "N/m"
    assert data["budget_of"] == "force_per_width"


def test_the_radius_is_null_where_its_interval_includes_flat() -> None:
    data = run("measure", POST, *SUBSTRATE, *FILM, "--bare-bow", "0 um ± 15 um", "--json").data
    check(data)
    low, high = data["curvature_change"]["interval"]
    assert low < 0.0 < high
    assert data["radius"] is None
    assert data["registration"] is None


def test_a_dome_has_a_negative_radius_and_an_ordered_interval() -> None:
    data = run("measure", POST, PRE, *SUBSTRATE, *FILM, "--json").data
    check(data)
    low, high = data["radius"]["interval"]
    assert low < data["radius"]["value"] < high < 0.0


def test_an_unknown_uncertainty_nulls_its_fields(measured: dict[str, Any]) -> None:
    length = measured["fit"]["length"]
    assert set(length) == QUANTITY
    assert length["standard_uncertainty"] is length["expanded_uncertainty"] is None
    assert length["interval"] == [None, None]


def test_inspect_lists_every_scan() -> None:
    ended = run("inspect", PRE, POST, "--json")
    check(ended.data)
    assert ended.code == 0
    assert [scan["file"] for scan in ended.data["scans"]] == [PRE, POST]
    for scan in ended.data["scans"]:
        assert set(scan) >= {"curvature", "points", "points_used", "length", "warnings", "bow"}
        assert scan["points"] == 1501
        assert scan["length"]["value"] == pytest.approx(0.12)
        check_quantity(scan["curvature"])


def test_inspect_of_one_scan_and_of_none_is_a_list_as_well() -> None:
    assert len(run("inspect", PRE, "--json").data["scans"]) == 1
    ended = run("inspect", "nothere.csv", PRE, "--json")
    assert ended.code == 3
    assert [scan["file"] for scan in ended.data["scans"]] == [PRE]
    assert [one["file"] for one in ended.data["refused"]] == ["nothere.csv"]
    assert "no such file" in ended.data["refused"][0]["message"]
    assert run("inspect", "nothere.csv", "--json").data["scans"] == []


@pytest.mark.parametrize("name", sorted(path.parent.name for path in DEMO.glob("*/lot.toml")))
def test_a_lot_has_a_decision_and_its_wafers_as_measure_gives_them(name: str) -> None:
    ended = run("lot", str(DEMO / name / "lot.toml"), "--json")
    check(ended.data)
    assert ended.data["decision"] in {"accepted", "rejected", "undecided"}
    assert ended.code == (0 if ended.data["decision"] == "accepted" else 1)
    assert ended.data["reason"]
    for wafer in ended.data["wafers"]:
        assert set(wafer) >= MEASURED | {"id", "conformance_probability", "refusal"}
        probability = wafer["conformance_probability"]
        assert probability is None or 0.0 <= probability <= 1.0
    check_quantity(ended.data["statistics"]["mean"])


def _lot(folder: Path, wafers: dict[str, tuple[str, str]], more: str = "") -> str:
    parts = [
        'lot = "T1"\n[substrate]\nmaterial = "Si(001)"\nthickness = "675 um ± 2 um"\n'
        '[film]\nthickness = "500 nm ± 2 %"\n' + more
    ]
    for name, (pre, post) in wafers.items():
        scan = f'{{ azimuth = "0 deg", pre = {json.dumps(pre)}, post = {json.dumps(post)} }}'
        parts.append(f"[[wafer]]\nid = {json.dumps(name)}\nscans = [{scan}]\n")
    file = folder / "lot.toml"
    file.write_text("\n".join(parts), encoding="utf-8")
    return str(file)


def test_a_lot_without_a_specification_has_no_decision(tmp_path: Path) -> None:
    ended = run("lot", _lot(tmp_path, {"a": (PRE, POST)}), "--json")
    assert ended.code == 0
    check(ended.data)
    assert ended.data["decision"] is None
    assert ended.data["wafers"][0]["conformance_probability"] is None


def test_a_refused_wafer_stands_in_the_lot_with_its_code(tmp_path: Path) -> None:
    limits = '[specification]\nlower = "150 MPa"\nupper = "230 MPa"\n'
    ended = run(
        "lot", _lot(tmp_path, {"a": (PRE, POST), "b": ("no.csv", POST + ".")}, limits), "--json"
    )
    check(ended.data)
    assert ended.data["decision"] == "undecided"
    assert ended.code == 1
    good, bad = ended.data["wafers"]
    assert set(good) == set(bad)
    assert bad["refusal"]["code"] == "unreadable"
    assert bad["stress"] is None
    assert bad["inputs"]["substrate"]["material"] == "Si(001)"


def test_a_lot_of_refused_wafers_is_refused(tmp_path: Path) -> None:
    ended = run("lot", _lot(tmp_path, {"a": (PRE, "no.csv")}), "--json")
    assert ended.code == 3
    check(ended.data)


@pytest.mark.parametrize("arguments", [(), ("Si(111)",), ("Si(110)",), ("fused silica",)])
def test_substrates_keep_the_contract(arguments: tuple[str, ...]) -> None:
    ended = run("substrates", *arguments, "--json")
    assert (ended.code, ended.err) == (0, "")
    check(ended.data)
    for constant in ended.data["constants"]:
        assert constant["source"]
        check_quantity(constant)


def test_the_modulus_of_a_cut() -> None:
    data = run("substrates", "Si(111)", "--json").data
    assert data["depends_on_azimuth"] is False
    # Brantley, J. Appl. Phys. 44 (1973) 534, table II: 229 GPa for Si(111), 180 GPa for Si(001).
    assert data["biaxial_modulus"]["value"] == pytest.approx(229.0e9, abs=0.5e9)
    data = run("substrates", "Si(110)", "--json").data
    assert data["depends_on_azimuth"] is True
    assert data["biaxial_modulus"] is None
    assert len(data["modulus_by_azimuth"]) > 3


def test_what_simulate_and_demo_write_is_listed_and_can_be_measured(tmp_path: Path) -> None:
    ended = run("simulate", str(tmp_path / "trial"), "--points", "500", "--json")
    check(ended.data)
    files = [Path(path) for path in ended.data["files"]]
    assert all(path.is_file() for path in files)
    assert [path.name for path in files] == ["pre-000.csv", "post-000.csv", "truth.toml"]
    pre, post = map(str, files[:2])
    stress = run("measure", pre, post, *SUBSTRATE, *FILM, "--json").data["stress"]
    low, high = stress["interval"]
    assert low - stress["expanded_uncertainty"] < 200e6 < high + stress["expanded_uncertainty"]

    ended = run("demo", str(tmp_path / "demo"), "--json")
    check(ended.data)
    for path in ended.data["files"]:
        shipped = DEMO / Path(path).relative_to(tmp_path / "demo")
        assert Path(path).read_bytes() == shipped.read_bytes()


def test_simulated_files_are_never_written_over(tmp_path: Path) -> None:
    assert run("simulate", str(tmp_path), "--points", "100").code == 0
    again = run("simulate", str(tmp_path), "--points", "100")
    assert (again.code, again.out) == (3, "")
    assert "not written over" in again.err
    assert run("demo", str(tmp_path)).code == 3


def test_nothing_of_any_object_is_a_unit_outside_si(measured: dict[str, Any]) -> None:
    words = ("MPa", "GPa", " um", " nm", " mm")
    free = (".settings", ".read_as", ".message", ".reason", ".sources", ".file", ".notes")
    for path, value in walk(measured):
        if isinstance(value, str) and not any(part in path for part in free):
            assert not any(word in value for word in words), (path, value)


def test_the_demo_prints_commands_that_run(tmp_path: Path) -> None:
    folder = tmp_path / "a folder"
    ended = run("demo", str(folder))
    assert ended.code == 0
    assert NITRIDE.name in ended.out
    import shlex

    for line in ended.out.splitlines():
        program, *arguments = shlex.split(line)
        assert program == "filmstress"
        assert run(*arguments).code in {0, 1}
