"""Folders of small records that the tests start from, and what a whole chain is."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from filmstress.lots.record.canonical import SCHEMA
from tests.cli._contract import check
from tests.cli._run import Ended, run

ROOT = Path(__file__).parents[3]
BODY: dict[str, Any] = {
    "schema": SCHEMA,
    "filmstress": "0",
    "lot": "K7 ± 窒",
    "results": {"numbers": [index / 7 for index in range(2000)]},
}
# Adds records for as long as it lives, or so many; says when it has begun.
WRITER = """
import sys
from pathlib import Path
from filmstress.lots.record.folder import add_record
from tests.lots.record.chains import BODY
print("begun", flush=True)
for _ in range(int(sys.argv[2])):
    print(add_record(Path(sys.argv[1]), BODY).number, flush=True)
"""


def writer(folder: Path, records: int) -> subprocess.Popen[str]:
    """A process that adds records to a folder."""
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), str(records)],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        text=True,
    )


def seal_by_hand(record: dict[str, Any]) -> str:
    """SHA-256 of a record as its documentation says, written here anew."""
    rest = {key: value for key, value in record.items() if key != "sha256"}
    text = json.dumps(rest, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def whole_chain(folder: Path) -> int:
    """Hold every record of a folder to be whole and to follow on the one before; how many."""
    names = sorted(path.name for path in folder.iterdir())
    assert set(names) >= {".lock"}
    records = [name for name in names if not name.startswith(".")]
    assert set(names) - set(records) <= {".lock", ".unfinished"}
    previous = None
    for number, name in enumerate(records, start=1):
        record = json.loads((folder / name).read_text(encoding="utf-8"))
        assert (record["number"], record["previous"]) == (number, previous), name
        assert record["sha256"] == seal_by_hand(record), name
        assert name.startswith(f"{number:04}-")
        previous = record["sha256"]
    return len(records)


LIMITS = "[specification]\nlower = '150 MPa'\nupper = '250 MPa'\n"


def recorded(lot: Path, *more: str) -> Path:
    """Measure a lot with a record; the record's file."""
    ended = run("lot", str(lot), "--record", "--json", *more)
    assert ended.code in (0, 1), ended.err
    return Path(ended.data["record"]["path"])


def verified(record: Path, *more: str) -> Ended:
    """Verify in JSON, held to the contract of all JSON objects."""
    ended = run("verify", str(record), "--json", *more)
    assert ended.code in (0, 1), ended.err
    check(ended.data)
    assert (ended.code == 0) == (ended.data["verdict"] == "same") == (not ended.data["differences"])
    return ended


def about(ended: Ended) -> set[tuple[str, str | None]]:
    return {(one["about"], one["name"]) for one in ended.data["differences"]}


def rewrite(path: Path, change: Callable[[dict[str, Any]], None], *, seal: bool = True) -> None:
    """Change a record as a forger would, with a new SHA-256 that fits."""
    record = json.loads(path.read_text(encoding="utf-8"))
    change(record)
    if seal:
        record["sha256"] = seal_by_hand(record)
    path.chmod(0o644)
    path.write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
