"""Records that were tampered with, and files that are none: never "same", never a traceback."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from filmstress.lots.record import canonical
from tests.cli._run import run
from tests.lots.record.chains import (
    about,
    recorded,
    rewrite,
    seal_by_hand,
    verified,
)
from tests.lots.writing import HEAD, write_lot

FEW = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])


FORGED: dict[str, Callable[[dict[str, Any]], None]] = {
    "stress": lambda record: record["results"]["wafers"][0]["stress"].update(value=1.9e8),
    "a move beyond all numbers": lambda record: record["results"]["wafers"][0]["stress"].update(
        value=-1e308, standard_uncertainty=1e-9, expanded_uncertainty=2e-9
    ),
    "uncertainty": lambda record: record["results"]["wafers"][1]["stress"].update(
        expanded_uncertainty=1e6
    ),
    "decision": lambda record: record["results"].update(decision="rejected"),
    "reason": lambda record: record["results"].update(reason="it was a good day"),
    "warning": lambda record: record["results"]["wafers"][0]["warnings"].clear(),
    "wafer": lambda record: record["results"]["wafers"].pop(),
    "points": lambda record: record["results"]["wafers"][0]["fit"].update(points_used=3),
    "mean": lambda record: record["results"]["statistics"]["mean"].update(value=2.01e8),
    "noise": lambda record: record["settings"].update(noise="sharp"),
    "lot text": lambda record: record["lot_file"].update(
        text=record["lot_file"]["text"].replace("500 nm", "501 nm")
    ),
    "hash": lambda record: record["files"][0].update(sha256="0" * 64),
    "size": lambda record: record["files"][0].update(size=1),
    "rows": lambda record: record["substrate_table"]["rows"].pop(),
    "edition": lambda record: record["substrate_table"].update(edition="1999-01"),
    "name": lambda record: record.update(lot="K8"),
    "previous": lambda record: record.update(previous="0" * 64),
    "number": lambda record: record.update(number=7),
}


@pytest.mark.parametrize("change", FORGED.values(), ids=FORGED)
def test_a_forged_record_that_is_sealed_again(
    lot: Path, change: Callable[[dict[str, Any]], None]
) -> None:
    path = lot / "records" / "0002-K7.json"
    assert json.loads(path.read_text(encoding="utf-8"))["number"] == 2
    rewrite(path, change)
    # What a forger wrote need not be a quantity by the contract.
    assert run("verify", str(path), "--json").data["verdict"] == "different"


def test_white_space_and_repeated_keys_are_changes(lot: Path) -> None:
    path = lot / "records" / "0002-K7.json"
    raw = path.read_bytes()
    path.chmod(0o644)
    for changed in (
        raw + b" ",
        raw.replace(b": ", b":", 1),
        raw.replace(b'"lot": "K7"', b'"lot": "K8", "lot": "K7"', 1),
        raw.replace(b'"K7"', b'"\\u004b7"', 1),
    ):
        assert changed != raw
        path.write_bytes(changed)
        assert about(verified(path)) == {("record", "0002-K7.json")}


def test_the_sha256_is_what_the_documentation_says(origin: Path) -> None:
    """The lines in the docstring, run as they stand there."""
    lines = [line for line in (canonical.__doc__ or "").splitlines() if line.startswith("    ")]
    code = "\n".join(lines).replace("0001-N24-03.json", str(origin / "records" / "0001-K7.json"))
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)], capture_output=True, text=True, check=True
    )
    told = json.loads((origin / "records" / "0001-K7.json").read_text(encoding="utf-8"))
    assert done.stdout.strip() == told["sha256"]


@pytest.fixture(scope="module")
def single(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lot of one small wafer with one record."""
    folder = tmp_path_factory.mktemp("single")
    path = write_lot(folder, {"01": 200e6}, head=HEAD.replace("test", "täst"))
    recorded(path)
    return folder


def flipped(raw: bytes, place: int, mask: int) -> bytes:
    return raw[:place] + bytes([raw[place] ^ mask]) + raw[place + 1 :]


@settings(FEW, max_examples=100)
@given(data=st.data())
def test_no_flipped_byte_of_a_record_is_the_same(single: Path, data: st.DataObject) -> None:
    path = single / "records" / "0001-K7.json"
    raw = path.read_bytes()
    # Most of a record is results; its head is what could lead astray.
    end = data.draw(st.sampled_from([200, 3000, len(raw)]))
    place = data.draw(st.integers(0, end - 1))
    path.chmod(0o644)
    try:
        path.write_bytes(flipped(raw, place, data.draw(st.integers(1, 255))))
        assert run("verify", str(path)).code in (1, 3)
    finally:
        path.write_bytes(raw)


@FEW
@given(data=st.data())
def test_no_flipped_byte_of_a_file_is_the_same(single: Path, data: st.DataObject) -> None:
    path = single / data.draw(st.sampled_from(["pre-01-0.csv", "post-01-0.csv", "lot.toml"]))
    raw = path.read_bytes()
    place = data.draw(st.integers(0, len(raw) - 1))
    try:
        path.write_bytes(flipped(raw, place, data.draw(st.integers(1, 255))))
        ended = verified(single / "records" / "0001-K7.json")
        assert path.name in {name for _, name in about(ended)}
    finally:
        path.write_bytes(raw)


ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.just(10**400) | st.floats(allow_nan=False)
    | st.sampled_from(["", "..", "/dev/zero", "\0", "x" * 300, "\ud800", "unreadable", "stress"]),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=3,
)  # fmt: skip


@settings(FEW, max_examples=80)
@given(data=st.data(), value=ANY, seed=st.integers(0, 10**6))
def test_whatever_a_record_holds_ends_in_words(
    single: Path, data: st.DataObject, value: Any, seed: int
) -> None:
    path = single / "records" / "0001-K7.json"
    raw = path.read_bytes()

    def change(record: dict[str, Any]) -> None:
        dice, place = random.Random(seed), record
        while True:
            key = dice.choice(list(place) if isinstance(place, dict) else range(len(place)))
            inner = place[key]
            if not isinstance(inner, dict | list) or not inner or dice.random() < 0.1:
                place[key] = value
                return
            place = inner

    record = json.loads(raw)
    change(record)
    try:
        record["sha256"] = seal_by_hand(record)
        text = json.dumps(record, indent=1, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        text = json.dumps(record, indent=1).encode()
    path.chmod(0o644)
    try:
        path.write_bytes(text + b"\n")
        assert run("verify", str(path)).code in (0, 1, 3)
        assert run("verify", str(path), "--json").code in (0, 1, 3)
    finally:
        path.write_bytes(raw)


REFUSED = {
    "nothing": (None, "No such file"),
    "empty": ("", "not JSON"),
    "no object": ("[]", "no schema"),
    "a lot's JSON": ('{"schema": "filmstress/lot/1"}', "no schema"),
    "a later form": ('{"schema": "filmstress/record/2"}', "form '2'"),
    "a part": ('{"schema": "filmstress/record/1"}', "'settings'"),
    "deep": ("[" * 100_000, "nested too deep"),
    "a long number": ('{"schema": ' + "1" * 5000 + "}", "not JSON"),
    "no number": ('{"schema": NaN}', "not JSON"),
}


@pytest.mark.parametrize(("text", "words"), REFUSED.values(), ids=REFUSED)
def test_what_is_no_record_is_refused(tmp_path: Path, text: str | None, words: str) -> None:
    path = tmp_path / "0001-x.json"
    if text is not None:
        path.write_text(text)
    ended = run("verify", str(path))
    assert (ended.code, ended.out) == (3, "")
    assert words in ended.err


def test_other_things_that_are_no_record(tmp_path: Path, lot: Path) -> None:
    assert run("verify", str(tmp_path)).code == 3
    assert run("verify", "/dev/null").code == 3
    assert run("verify", "a\0b").code == 3
    assert run("verify").code == 2
    record = str(lot / "records" / "0001-K7.json")
    ended = run("verify", record, "--files", str(tmp_path / "nowhere"))
    assert (ended.code, ended.out) == (3, "")
    assert "no such folder" in ended.err


@pytest.mark.parametrize(
    "name", ["../../up", "/abs/olute", "窒化膜 ±", "x" * 300, "..", "a\\\\b", "-rf *", "$HOME"]
)
def test_a_record_of_any_lot_stays_in_its_folder(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "deep" / "lot"
    folder.mkdir(parents=True)
    path = write_lot(folder, {"01": 200e6}, head=HEAD.replace('"K7"', f'"{name}"', 1))
    before = set(tmp_path.rglob("*"))
    record = recorded(path)
    new = set(tmp_path.rglob("*")) - before
    assert new == {folder / "records", folder / "records" / ".lock", record}
    assert record.parent == folder / "records"
    assert verified(record).code == 0


def test_a_refused_wafer_is_recorded_and_reproduced(lot: Path, tmp_path: Path) -> None:
    (lot / "post-01-0.csv").unlink()
    record = recorded(lot / "lot.toml")
    assert verified(record).code == 0
    archive = lot.rename(tmp_path / "elsewhere")
    assert verified(archive / "records" / record.name).code == 0
    shutil.copy(archive / "pre-01-0.csv", archive / "post-01-0.csv")
    ended = verified(archive / "records" / record.name)
    assert {("scan", "post-01-0.csv"), ("wafer", "01")} <= about(ended)
