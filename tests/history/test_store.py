"""A history in a file and on a server: what goes in comes out, once, in order, and whole."""

from __future__ import annotations

import json
import math
import multiprocessing
import os
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
import sqlalchemy as sa

from filmstress.errors import HistoryError
from filmstress.history.entry import kept_lot
from filmstress.history.questions import Choice, document, lots, recipes, wafers
from filmstress.history.schema import LOTS, STEPS_DONE, VERSION
from filmstress.history.selecting import select
from filmstress.history.store import History, open_history
from filmstress.history.upkeep import check, copy, exported, imported
from filmstress.history.writing import keep, keep_many
from tests.cli._run import run
from tests.history import made

ROOT = Path(__file__).parents[2]


def test_what_goes_in_comes_out(history: History) -> None:
    kept = made.lot()
    assert keep(history, kept) == 1
    (one,) = lots(history, Choice())
    assert (one.number, one.wafers, one.supersedes, one.superseded_by) == (1, 2, None, None)
    assert set(one.lot.parameters) == set(kept.parameters)
    assert (one.lot.lower, one.lot.upper) == (-250e6, None)
    found = wafers(history, Choice(), with_terms=True)
    assert tuple(row.wafer for row in found) == kept.wafers
    assert found[0].wafer.stress_dof == 37.5
    assert math.isinf(found[0].wafer.terms[0].dof)
    assert json.loads(document(history, 1)) == made.document()
    assert check(history).faults == ()


def test_what_a_lot_shares_is_not_taken_for_another_lots(history: History) -> None:
    keep(history, made.lot(1, lot="A1"))
    keep(history, made.lot(2, lot="A2"))
    gauge, own = zip(
        *(row.wafer.terms for row in wafers(history, Choice(), with_terms=True)), strict=True
    )
    assert {term.common_to for term in gauge} == {"gauge"}
    assert {term.common_to for term in own} == {"wafer 1 of A1", "wafer 1 of A2"}


@pytest.mark.parametrize(
    "common_to", ["scan post/01.csv", "map post.x3p", "stage", "one scan", "lot", "wafer 1"]
)
def test_what_bears_one_name_in_two_lots_is_two_things(history: History, common_to: str) -> None:
    """Lots of like folders name their scans alike; a lot called 1 holds a wafer 1."""
    for number, stresses in ((1, (-2e8,)), (2, (-2.2e8,))):
        told = made.document(f"{number}", f"recipe {number}", stresses=stresses)
        told["wafers"][0]["budget"][1]["common_to"] = common_to
        keep(history, kept_lot(told, recorded_at=f"2026-04-01T09:00:0{number}Z"))
    found = wafers(history, Choice(), with_terms=True)
    assert len({row.wafer.terms[1].common_to for row in found}) == 2
    chosen = select(history, ["recipe 1", "recipe 2"], Choice())
    names = [{term.common_to for terms in one.terms for term in terms} for one in chosen]
    assert names[0] & names[1] == {"gauge"}


def test_a_record_is_kept_once(history: History) -> None:
    assert keep(history, made.lot(1)) == keep(history, made.lot(1)) == 1
    assert keep_many(history, [made.lot(1), made.lot(2), made.lot(2)]) == 1
    assert keep(history, made.lot(3)) == 3
    assert len(lots(history, Choice())) == 3


def test_a_lot_in_the_history_may_correct_an_earlier_one(history: History) -> None:
    """``lot --record`` keeps a lot by itself; only then can it be named as a correction."""
    for number in (1, 2, 3):
        keep(history, made.lot(number))
    assert keep(history, made.lot(3), supersedes=1, why="wrong thickness") == 3
    assert [one.number for one in lots(history, Choice())] == [2, 3]
    assert lots(history, Choice())[-1].why == "wrong thickness"
    assert keep(history, made.lot(3), supersedes=1, why="said twice") == 3
    with pytest.raises(HistoryError, match="corrects entry 1 already"):
        keep(history, made.lot(3), supersedes=2, why="x")
    with pytest.raises(HistoryError, match="very entry"):
        keep(history, made.lot(2), supersedes=2, why="x")
    with pytest.raises(HistoryError, match="an earlier one"):
        keep(history, made.lot(2), supersedes=3, why="x")
    with pytest.raises(HistoryError, match="corrected before"):
        keep(history, made.lot(2), supersedes=1, why="x")
    assert check(history).faults == ()


def test_a_correction_counts_in_place_of_what_stays(history: History) -> None:
    keep(history, made.lot(1))
    with pytest.raises(HistoryError, match="reason"):
        keep(history, made.lot(2), supersedes=1)
    with pytest.raises(HistoryError, match="no entry 7"):
        keep(history, made.lot(2), supersedes=7, why="x")
    assert keep(history, made.lot(2), supersedes=1, why="thickness was that of 02") == 2
    with pytest.raises(HistoryError, match="corrected before"):
        keep(history, made.lot(3), supersedes=1, why="again")
    assert [one.number for one in lots(history, Choice())] == [2]
    both = lots(history, Choice(superseded=True))
    assert [(one.number, one.superseded_by, one.why) for one in both] == [
        (1, 2, ""),
        (2, None, "thickness was that of 02"),
    ]
    assert [row.superseded for row in wafers(history, Choice(superseded=True))] == [
        True,
        True,
        False,
        False,
    ]


def test_choices(history: History) -> None:
    keep(history, made.lot(1, lot="A", recipe="n", date="2026-03-01", tool="P1"))
    keep(history, made.lot(2, lot="B", recipe="n", date="2026-03-03T12:00", tool="P2"))
    keep(history, made.lot(3, lot="C", recipe="m", date="2026-03-02", tool="P1"))
    keep(history, made.lot(4, lot="D", recipe="n", date="some day", tool="P1"))

    def names(**chosen: object) -> str:
        return "".join(one.lot.lot for one in lots(history, Choice(**chosen)))  # type: ignore[arg-type]

    # Without a readable date the time of the record counts.
    assert names() == "ACBD"
    assert names(recipe="n") == "ABD"
    assert names(tool="P1", recipe="n") == "AD"
    assert names(since="2026-03-02") == "CBD"
    assert names(until="2026-03-03") == "ACB"
    assert names(last=2) == "BD"
    assert names(lot="C") == "C"
    last = wafers(history, Choice(wafer="2", last=3))
    assert [row.lot for row in last] == ["C", "B", "D"]
    assert recipes(history) == [
        ("m", 1, "2026-03-02", "2026-03-02"),
        ("n", 3, "2026-03-01", "2026-04-01T09:00:04Z"),
    ]


def test_export_and_import(history: History, tmp_path: Path) -> None:
    keep(history, made.lot(1))
    keep(history, made.lot(2), supersedes=1, why="wrong tool")
    keep(history, made.lot(3, recipe="other"))
    lines = [json.loads(line) for line in exported(history)]
    other = open_history(str(tmp_path / "other.sqlite"), create=True)
    entries = [(f"line {n}", line) for n, line in enumerate(lines, start=1)]
    assert imported(other, entries) == 3
    assert imported(other, entries) == 0
    assert [json.loads(line) for line in exported(other)] == lines
    assert imported(other, [("r.json", made.record(9))]) == 1
    for wrong in ({}, [], 3, {"schema": "filmstress/lot/1"}, {"schema": "filmstress/record/1"}):
        with pytest.raises(HistoryError, match=r"x\.json"):
            imported(other, [("x.json", wrong)])
    other.close()


@pytest.mark.parametrize("word", ["1e400", "-1e999999999", "1" + "0" * 400, "NaN", "Infinity"])
@pytest.mark.parametrize("place_of", ['"stress": {"value": ', '"sensitivity": '])
def test_a_number_that_is_none_is_not_kept(
    history: History, word: str, place_of: str, tmp_path: Path
) -> None:
    text = json.dumps(made.record())
    start = text.index(place_of) + len(place_of)
    stop = min(text.index(sign, start) for sign in ",}")
    file = tmp_path / "record.json"
    file.write_text(text[:start] + word + text[stop:], encoding="utf-8")
    ended = run("history", "import", str(file), "--history", history.place)
    assert ended.code == 3
    assert lots(history, Choice()) == []


def test_a_copy_is_the_same_and_writes_nothing_over(history: History, tmp_path: Path) -> None:
    keep_many(history, [made.lot(n) for n in range(1, 8)])
    keep(history, made.lot(9), supersedes=2, why="again")
    target = tmp_path / "copy.sqlite"
    assert copy(history, str(target)) == 8
    twin = open_history(str(target))
    assert list(exported(twin)) == list(exported(history))
    twin.close()
    before = target.read_bytes()
    with pytest.raises(HistoryError, match="not written over"):
        copy(history, str(target))
    assert target.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir() if "part" in path.name] == []


def test_check_finds_what_was_changed_by_hand(history: History) -> None:
    keep(history, made.lot(1))
    with history.writing() as connection:
        connection.execute(sa.text("DELETE FROM wafers WHERE place = 1"))
    (fault,) = check(history).faults
    assert "1 wafers are kept" in fault
    with history.writing() as connection:
        connection.execute(sa.update(LOTS).values(document="{"))
    (fault,) = check(history).faults
    assert "cannot be read" in fault


def test_a_newer_schema_is_left_alone(history: History, place: str) -> None:
    with history.writing() as connection:
        connection.execute(STEPS_DONE.insert().values(step=VERSION + 1, done_at="later"))
    with pytest.raises(HistoryError, match="newer filmstress"):
        open_history(place, create=True)


def _write(place: str, writer: int, lots: int) -> None:
    history = open_history(place, create=True)
    for number in range(lots):
        keep(history, made.lot(1000 * writer + number, lot=f"{writer}-{number}"))
    history.close()


def test_ten_writers_at_once_lose_nothing(place: str) -> None:
    # They begin the history together, too.
    context = multiprocessing.get_context("spawn")
    writers = [context.Process(target=_write, args=(place, n, 5)) for n in range(1, 11)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert [writer.exitcode for writer in writers] == [0] * 10
    history = open_history(place)
    found = lots(history, Choice())
    assert sorted(one.number for one in found) == list(range(1, 51))
    assert {one.lot.lot for one in found} == {f"{w}-{n}" for w in range(1, 11) for n in range(5)}
    assert check(history).faults == ()
    history.close()


_KILLED = """
import sys
from filmstress.history.store import open_history
from filmstress.history.writing import keep
from tests.history import made
history = open_history(sys.argv[1], create=True)
number = int(sys.argv[2])
while True:
    keep(history, made.lot(number, lot=str(number)))
    print(number, flush=True)
    number += 1
"""


def test_killed_at_any_moment_every_lot_is_whole(tmp_path: Path) -> None:
    place = str(tmp_path / "history.sqlite")
    said: set[int] = set()
    for round_ in range(6):
        process = subprocess.Popen(
            [sys.executable, "-c", _KILLED, place, str(10_000 * round_)],
            stdout=subprocess.PIPE,
            cwd=ROOT,
            text=True,
        )
        assert process.stdout is not None
        first = process.stdout.readline()
        time.sleep(0.003 * round_)
        process.kill()
        rest = process.stdout.read()
        process.wait()
        process.stdout.close()
        said |= {int(word) for word in (first + rest).split()}
    history = open_history(place)
    found = lots(history, Choice())
    assert said <= {int(one.lot.lot) for one in found}
    assert all(one.wafers == 2 for one in found)
    assert [one.number for one in sorted(found, key=lambda one: one.number)] == list(
        range(1, len(found) + 1)
    )
    assert check(history).faults == ()
    history.close()


# Places that cannot be used.


def test_there_is_none_yet(tmp_path: Path) -> None:
    with pytest.raises(HistoryError, match="no history yet") as caught:
        open_history(str(tmp_path / "none.sqlite"))
    assert "--record" in caught.value.hint
    assert not (tmp_path / "none.sqlite").exists()


def test_an_empty_file_is_no_history(tmp_path: Path) -> None:
    (tmp_path / "empty").touch()
    with pytest.raises(HistoryError, match="no history yet"):
        open_history(str(tmp_path / "empty"))


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE lots (x)")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(HistoryError, match="no history of filmstress"):
        open_history(str(path), create=True)
    assert path.read_bytes() == before


@pytest.mark.parametrize("damage", ["head", "middle", "half"])
def test_a_damaged_file_is_told_and_left_alone(tmp_path: Path, damage: str) -> None:
    path = tmp_path / "history.sqlite"
    history = open_history(str(path), create=True)
    keep_many(history, [made.lot(n) for n in range(30)])
    history.close()
    raw = bytearray(path.read_bytes())
    if damage == "head":
        raw[:100] = b"x" * 100
    elif damage == "middle":
        raw[4096:-4096] = b"\xff" * (len(raw) - 8192)
    else:
        del raw[len(raw) // 2 :]
    path.write_bytes(bytes(raw))
    with pytest.raises(HistoryError) as caught:  # noqa: PT012 - it may show at either step
        opened = open_history(str(path), create=True)
        try:
            faults = check(opened).faults
        finally:
            opened.close()
        raise HistoryError(f"damaged, and told: {faults}") if faults else AssertionError
    assert str(caught.value)
    assert path.read_bytes() == bytes(raw)


def test_a_busy_file_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("filmstress.history.store._PATIENCE", 0.1)
    path = tmp_path / "history.sqlite"
    open_history(str(path), create=True).close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    history = open_history(str(path))
    with pytest.raises(HistoryError, match="locked") as caught:
        keep(history, made.lot())
    assert "try again" in caught.value.hint
    other.execute("ROLLBACK")
    assert keep(history, made.lot()) == 1
    history.close()
    other.close()


def test_a_full_disk_keeps_nothing_of_the_entry(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite"
    history = open_history(str(path), create=True)
    keep(history, made.lot(1))
    with history.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
    history.close()
    history = open_history(str(path))

    @sa.event.listens_for(history.engine, "connect")
    def _small(connection: sqlite3.Connection, _: object) -> None:
        # SQLite's own stand-in for a disk without room.
        connection.execute(f"PRAGMA max_page_count = {pages}")

    history.engine.dispose()
    with pytest.raises(HistoryError, match="full") as caught:
        keep_many(history, [made.lot(n) for n in range(2, 400)])
    assert "nothing of this entry was kept" in caught.value.hint
    assert [one.number for one in lots(history, Choice())] == [1]
    assert check(history).faults == ()
    history.close()


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write all")
def test_a_read_only_file_can_be_read(tmp_path: Path) -> None:
    path = tmp_path / "history.sqlite"
    history = open_history(str(path), create=True)
    keep(history, made.lot())
    history.close()
    path.chmod(0o444)
    history = open_history(str(path))
    assert len(lots(history, Choice())) == 1
    with pytest.raises(HistoryError, match=r"readonly|read-only"):
        keep(history, made.lot(2))
    history.close()
