"""How fast a history is written and asked, against bare sqlite3 with the same rows.

    python -m tests.benchmarks.history_speed [--wafers 100000] [--rounds 5]

Prints medians of the processor times and their ratios.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from filmstress.history.questions import Choice, wafers
from filmstress.history.store import open_history
from filmstress.history.terms import as_text
from filmstress.history.writing import keep_many
from filmstress.records.history import KeptLot
from tests.history import made

WAFERS_PER_LOT = 25
RECIPES = 20


@dataclass(frozen=True)
class Speed:
    """Processor seconds, ours and bare."""

    bulk: float
    bare_bulk: float
    last: float
    bare_last: float


def many(wafers_wanted: int) -> list[KeptLot]:
    """Lots of 25 wafers over twenty recipes."""
    stresses = tuple(-2e8 + 1e5 * n for n in range(WAFERS_PER_LOT))
    return [
        made.lot(
            number,
            lot=f"L{number}",
            recipe=f"recipe {number % RECIPES}",
            stresses=stresses,
            date=f"20{10 + number % 15}-0{1 + number % 9}-{10 + number % 18}",
        )
        for number in range(wafers_wanted // WAFERS_PER_LOT)
    ]


def _seconds(work: Callable[[], object]) -> float:
    begin = time.process_time()
    work()
    return time.process_time() - begin


def _bare(path: Path, lots: list[KeptLot]) -> None:
    """The same rows by executemany, as somebody would who knew them beforehand."""
    rows, lines, stated = [], [], []
    for number, lot in enumerate(lots, start=1):
        rows.append(
            (
                *(number, lot.record_sha256, lot.lot, lot.recipe, lot.at, lot.recorded_at),
                *(lot.made_on, lot.tool, lot.decision, lot.reason, lot.lower, lot.upper),
                *(None, "", lot.document),
            )
        )
        lines += [
            (
                *(number, place, w.wafer, w.role, w.stress, w.stress_u, w.stress_dof),
                *(w.force, w.force_u, w.film_thickness, w.conformance, w.refusal),
                as_text(w.terms),
            )
            for place, w in enumerate(lot.wafers)
        ]
        stated += [(number, p.name, p.text, p.value, p.unit) for p in lot.parameters]
    connection = sqlite3.connect(path)
    with connection:
        for table, some in (("lots", rows), ("wafers", lines), ("parameters", stated)):
            marks = ",".join("?" * len(some[0]))
            connection.executemany(f"INSERT INTO {table} VALUES ({marks})", some)
    connection.close()


def _bare_last(path: Path, recipe: str) -> list[tuple[object, ...]]:
    connection = sqlite3.connect(path)
    query = (
        "SELECT wafers.*, lots.lot, lots.recipe, lots.at, lots.tool, lots.lower, lots.upper, "
        "EXISTS (SELECT 1 FROM lots AS later WHERE later.supersedes = lots.number) "
        "FROM lots JOIN wafers ON wafers.lot_number = lots.number WHERE lots.recipe = ? "
        "ORDER BY lots.at DESC, lots.number DESC, wafers.place DESC LIMIT 500"
    )
    found = connection.execute(query, (recipe,)).fetchall()
    connection.close()
    return found


def measure(wafers_wanted: int, rounds: int) -> Speed:
    """Medians over some rounds, ours and bare by turns."""
    lots = many(wafers_wanted)
    told: list[tuple[float, ...]] = []
    for _ in range(rounds):
        with tempfile.TemporaryDirectory() as folder:
            ours, bare = Path(folder) / "ours", Path(folder) / "bare"
            open_history(str(bare), create=True).close()
            history = open_history(str(ours), create=True)
            bulk = _seconds(lambda: keep_many(history, lots))  # noqa: B023
            bare_bulk = _seconds(lambda: _bare(bare, lots))  # noqa: B023
            choice = Choice(recipe="recipe 3", last=500)
            asked = wafers(history, choice)
            assert len(asked) == min(500, len(_bare_last(bare, "recipe 3")))
            last = _seconds(lambda: wafers(history, choice))  # noqa: B023
            bare_last = _seconds(lambda: _bare_last(bare, "recipe 3"))  # noqa: B023
            history.close()
            told.append((bulk, bare_bulk, last, bare_last))
    return Speed(*(statistics.median(column) for column in zip(*told, strict=True)))


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--wafers", type=int, default=100_000)
    parser.add_argument("--rounds", type=int, default=5)
    asked = parser.parse_args()
    told = measure(asked.wafers, asked.rounds)
    print(
        f"{asked.wafers} wafers in bulk: {told.bulk:.2f} s, bare {told.bare_bulk:.2f} s,", end=" "
    )
    print(f"ratio {told.bulk / told.bare_bulk:.2f}")
    print(f"last 500: {1e3 * told.last:.1f} ms, bare {1e3 * told.bare_last:.1f} ms,", end=" ")
    print(f"ratio {told.last / told.bare_last:.2f}")


if __name__ == "__main__":
    main()
