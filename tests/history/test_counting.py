"""Every scan counts once, however often its lot was recorded."""

from __future__ import annotations

import json

from filmstress.history.counting import counted_wafers, same_scans
from filmstress.history.entry import kept_lot
from filmstress.history.questions import Choice
from filmstress.history.selecting import select
from filmstress.history.store import History
from filmstress.history.sweeping import sweep
from filmstress.history.writing import keep
from filmstress.records.history import KeptLot
from tests.history import made


def lot(number: int, name: str, *scans: str) -> KeptLot:
    """A lot of one wafer for each scan after deposition."""
    told = made.record(number, lot=name, stresses=tuple(-2e8 - 1e6 * i for i in range(len(scans))))
    for wafer, scan in zip(told["results"]["wafers"], scans, strict=True):
        wafer["inputs"]["files"] = [
            {"state": "pre", "sha256": "p" * 64},
            {"state": "post", "sha256": scan * 64},
        ]
    return kept_lot(told["results"], recorded_at=told["time"], record_sha256=f"{number:064d}")


def counted(history: History) -> list[tuple[int, str]]:
    rows, _ = counted_wafers(history, Choice(recipe="nitride"))
    return [(row.number, row.wafer.wafer) for row in rows]


def test_a_lot_recorded_again_of_the_same_scans_counts_once(history: History) -> None:
    keep(history, lot(1, "A1", "a", "b"))
    keep(history, lot(2, "A2", "c", "d"))
    keep(history, lot(3, "A1", "a", "b"))
    assert counted(history) == [(2, "1"), (2, "2"), (3, "1"), (3, "2")]
    assert counted_wafers(history, Choice())[1] == (1,)
    assert same_scans(history, 3, Choice(lot="A1")) == (1,)
    assert same_scans(history, 1, Choice(lot="A1")) == ()
    first, second = select(history, ["lot:A1", "lot:A2"], Choice())
    assert (first.entries, first.again, second.again) == ((3,), (1,), ())
    swept = sweep(history, "nitride", "pressure", Choice())
    assert (swept.stress.entries, swept.stress.again, swept.without) == ((2, 3), (1,), 0)


def test_other_scans_of_a_lot_and_lots_that_share_none_all_count(history: History) -> None:
    keep(history, lot(1, "A1", "a", "b"))
    keep(history, lot(2, "A1", "e", "f"))  # measured anew
    keep(history, lot(3, "A2", "a", "b"))  # another lot
    assert len(counted(history)) == 6
    assert counted_wafers(history, Choice())[1] == ()


def test_a_wafer_that_was_not_computed_again_still_counts(history: History) -> None:
    keep(history, lot(1, "A1", "a", "b"))
    keep(history, lot(2, "A1", "a"))
    assert counted(history) == [(1, "2"), (2, "1")]


def test_a_lot_without_files_in_its_document_counts(history: History) -> None:
    keep(history, made.lot(1))
    keep(history, made.lot(2))
    assert "files" not in json.dumps(made.document())
    assert len(counted(history)) == 4
