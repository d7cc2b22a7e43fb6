"""Verifying records: what is the same, and what an honest change makes of it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from filmstress.lots.batch import measure_lot
from filmstress.substrates import table
from filmstress.version import VERSION
from tests.cli._run import DEMO, run
from tests.lots.record.chains import (
    ROOT,
    about,
    recorded,
    rewrite,
    seal_by_hand,
    verified,
    whole_chain,
)


@pytest.mark.parametrize("name", ["N24-03", "N24-04", "M24-11"])
def test_demo_lots_are_reproduced_to_the_last_bit(name: str, tmp_path: Path) -> None:
    folder = tmp_path / name
    shutil.copytree(DEMO / name, folder)
    record = recorded(folder / "lot.toml")
    assert record == folder / "records" / f"0001-{name}.json"
    data = verified(record).data
    assert data["verdict"] == "same"
    assert data["numbers"]["not_identical"] == 0
    assert data["numbers"]["compared"] > 500
    assert data["notes"] == []


def test_a_record_holds_what_an_auditor_needs(origin: Path) -> None:
    path = origin / "records" / "0002-K7.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    first = json.loads((path.parent / "0001-K7.json").read_text(encoding="utf-8"))
    assert list(record)[:2] == ["schema", "filmstress"]
    assert record["sha256"] == seal_by_hand(record)
    assert record["previous"] == first["sha256"]
    assert record["lot_file"]["text"] == (origin / "lot.toml").read_text(encoding="utf-8")
    assert [file["path"] for file in record["files"]] == [
        "pre-01-0.csv", "post-01-0.csv", "pre-02-0.csv", "post-02-0.csv",
    ]  # fmt: skip
    rows = {row["symbol"]: row for row in record["substrate_table"]["rows"]}
    assert record["substrate_table"]["edition"] == table.CURRENT_EDITION
    assert {"c11", "c12", "c44"} <= set(rows)
    assert rows["c11"]["source"]
    assert record["settings"] == {"noise": "safe", "monte_carlo": False, "seed": 101}
    assert record["time"].endswith("Z")
    # The results are those that the lot's own JSON gives.
    plain = run("lot", str(origin / "lot.toml"), "--json").data
    assert plain.pop("record") is None
    assert record["results"] == plain


def test_the_program_says_where_the_record_is(lot: Path, tmp_path: Path) -> None:
    told = run("lot", str(lot / "lot.toml"), "--record")
    assert told.code == 0
    assert "record written:" in told.err
    assert "0003-K7.json" in told.err
    folder = tmp_path / "elsewhere" / "deep"
    ended = run("lot", str(lot / "lot.toml"), "--record-folder", str(folder), "--json")
    record = ended.data["record"]
    assert record["path"] == str(folder / "0001-K7.json")
    assert (record["number"], record["previous"]) == (1, None)
    assert record["sha256"] in ended.err
    assert verified(Path(record["path"])).code == 0


def test_a_lot_that_was_moved(lot: Path, tmp_path: Path) -> None:
    record = lot / "records" / "0002-K7.json"
    assert verified(record).code == 0
    moved = lot.rename(tmp_path / "archive")
    assert verified(moved / "records" / "0002-K7.json").code == 0
    records = tmp_path / "records"
    (moved / "records").rename(records)
    ended = verified(records / "0002-K7.json", "--files", str(moved))
    assert ended.code == 0
    assert verified(records / "0002-K7.json").code == 1


def test_absolute_paths_can_be_moved(lot: Path, tmp_path: Path) -> None:
    (lot / "sub").mkdir()
    (lot / "pre-01-0.csv").rename(lot / "sub" / "pre-01-0.csv")
    shutil.copy(lot / "pre-02-0.csv", tmp_path / "outside.csv")
    text = (lot / "lot.toml").read_text(encoding="utf-8")
    text = text.replace('"pre-01-0.csv"', f'"{lot}/sub/pre-01-0.csv"')
    text = text.replace('"pre-02-0.csv"', '"../outside.csv"')
    (lot / "lot.toml").write_text(text, encoding="utf-8")
    record = recorded(lot / "lot.toml")
    assert verified(record).code == 0
    shutil.move(tmp_path / "outside.csv", lot)
    away = tmp_path / "archive" / "one"
    shutil.copytree(lot, away)
    shutil.rmtree(lot)
    record = away / "records" / record.name
    assert verified(record, "--files", str(away)).code == 0


def test_scans_that_changed_or_are_gone(lot: Path) -> None:
    scan = lot / "pre-01-0.csv"
    rows = scan.read_text().splitlines()
    x, z = rows[100].split(",")
    rows[100] = f"{x},{float(z) + 0.005:.6f}"
    scan.write_text("\n".join(rows) + "\n")
    (lot / "post-02-0.csv").unlink()
    ended = verified(lot / "records" / "0002-K7.json")
    assert about(ended) >= {
        ("scan", "pre-01-0.csv"),
        ("scan", "post-02-0.csv"),
        ("wafer", "02"),
        ("decision", None),
    }
    first, second = ended.data["wafers"]
    assert first["moved"]["value"] != 0.0
    assert second["refusal_now"] == "unreadable"
    assert ended.data["decision"] == {"then": "accepted", "now": "undecided"}
    told = run("verify", str(lot / "records" / "0002-K7.json"))
    assert "scan post-02-0.csv: missing" in told.out
    assert "accepted then, undecided now" in told.out


def test_a_lot_file_that_changed_is_told_and_the_number_still_reproduced(lot: Path) -> None:
    path = lot / "lot.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("500 nm", "550 nm"), encoding="utf-8")
    record = lot / "records" / "0002-K7.json"
    ended = verified(record)
    assert about(ended) == {("lot file", "lot.toml")}
    assert ended.data["numbers"]["not_identical"] == 0
    assert "the record's own copy" in run("verify", str(record)).out
    path.unlink()
    assert about(verified(record)) == {("lot file", "lot.toml")}


def test_a_wafer_table_that_changed(tmp_path: Path) -> None:
    folder = tmp_path / "M24-11"
    shutil.copytree(DEMO / "M24-11", folder)
    wafers = folder / "wafers.csv"
    # Line ends and the mark of byte order of an office program are part of the file.
    wafers.write_bytes(b"\xef\xbb\xbf" + wafers.read_bytes().replace(b"\n", b"\r\n"))
    record = recorded(folder / "lot.toml")
    assert verified(record).code == 0
    wafers.write_bytes(wafers.read_bytes() + b"\r\n")
    ended = verified(record)
    assert about(ended) == {("wafer table", "wafers.csv")}
    assert ended.data["numbers"]["not_identical"] == 0


def test_a_flat_is_among_the_files(lot: Path) -> None:
    text = (lot / "lot.toml").read_text(encoding="utf-8")
    shutil.copy(lot / "pre-01-0.csv", lot / "flat.csv")
    text = text.replace("[scan]", '[scan]\ndatum = "flat.csv"')
    (lot / "lot.toml").write_text(text, encoding="utf-8")
    record = recorded(lot / "lot.toml")
    assert "flat.csv" in record.read_text(encoding="utf-8")
    (lot / "flat.csv").unlink()
    assert ("scan", "flat.csv") in about(verified(record))


def test_another_version_is_a_note(lot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("filmstress.version.VERSION", "9.9")
    ended = verified(lot / "records" / "0002-K7.json")
    assert ended.code == 0
    assert ended.data["notes"] == [f"measured with filmstress {VERSION}, recomputed with 9.9"]


def test_another_table(lot: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    other = tmp_path / "data"
    shutil.copytree(table._DATA, other)
    values = other / f"{table.CURRENT_EDITION}.csv"
    monkeypatch.setattr(table, "_DATA", other)
    table._records.cache_clear()
    record = lot / "records" / "0002-K7.json"
    edition = f"edition {table.CURRENT_EDITION}"
    try:
        text = values.read_text(encoding="utf-8")
        values.write_text(text + "\n", encoding="utf-8")
        ended = verified(record)
        assert about(ended) == {("substrate table", edition)}
        assert "the rows used are the same" in ended.data["differences"][0]["message"]
        values.write_text(text.replace("165.7", "166.7"), encoding="utf-8")
        table._records.cache_clear()
        ended = verified(record)
        assert about(ended) == {("substrate table", edition), ("wafer", "01"), ("wafer", "02")}
        shares = [one["moved_share_of_expanded_uncertainty"] for one in ended.data["wafers"]]
        assert all(share > 0.01 for share in shares)
    finally:
        table._records.cache_clear()


def test_the_earlier_record_removed_edited_or_replaced(lot: Path) -> None:
    folder = lot / "records"
    first, second = folder / "0001-K7.json", folder / "0002-K7.json"
    kept = first.read_bytes()
    assert verified(second).data["record"]["records_in_folder"] == 2

    first.unlink()
    assert about(verified(second)) == {("chain", "record 0001")}

    first.write_bytes(kept.replace(b"K7", b"K8"))
    assert about(verified(second)) == {("chain", "0001-K7.json")}
    assert ("record", "0001-K7.json") in about(verified(first))

    first.write_bytes(b"")
    assert about(verified(second)) == {("chain", "0001-K7.json")}

    first.write_bytes(kept)
    rewrite(first, lambda record: record.update(time="2020-01-01T00:00:00Z"))
    # Sealed again it is whole by itself, but what follows no longer fits, seen from both.
    assert about(verified(second)) == {("chain", "0002-K7.json")}
    assert about(verified(first)) == {("chain", "0002-K7.json")}

    first.write_bytes(kept)
    shutil.copy(first, folder / "0001-other.json")
    assert ("chain", "0001-other.json") in about(verified(second))


def test_a_record_under_another_name_keeps_its_place(lot: Path) -> None:
    second = lot / "records" / "0002-K7.json"
    copy = second.rename(second.with_name("for the auditor.json"))
    assert verified(copy).code == 0


@pytest.mark.skipif(os.name == "nt", reason="limits of a process")
def test_where_the_record_fails_the_result_is_not_lost(lot: Path) -> None:
    code = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "from filmstress.cli.app import main\n"
        "main(sys.argv[1:])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "lot", str(lot / "lot.toml"), "--record", "--json"],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 3
    data = json.loads(done.stdout)
    assert data["decision"] == "accepted"
    assert data["record"] is None
    assert "no record can be written here: File too large" in done.stderr
    assert whole_chain(lot / "records") == 2


def test_a_folder_that_takes_no_record_is_refused_before_measuring(lot: Path) -> None:
    ended = run("lot", str(lot / "lot.toml"), "--record-folder", str(lot / "pre-01-0.csv"))
    assert (ended.code, ended.out) == (3, "")
    assert "no record can be written here" in ended.err


@pytest.mark.parametrize("changed", ["lot.toml", "post-02-0.csv"])
def test_a_file_that_changes_during_the_run_makes_no_record(
    lot: Path, monkeypatch: pytest.MonkeyPatch, changed: str
) -> None:
    def measured(*given: Any, **more: Any) -> Any:
        result = measure_lot(*given, **more)
        with (lot / changed).open("a") as file:
            file.write("\n")
        return result

    monkeypatch.setattr("filmstress.lots.batch.measure_lot", measured)
    ended = run("lot", str(lot / "lot.toml"), "--record")
    assert ended.code == 3
    assert "ACCEPTED" in ended.out
    assert f"{changed}: was changed while the lot was measured" in ended.err
    assert whole_chain(lot / "records") == 2
