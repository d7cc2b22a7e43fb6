"""Kill ``lot --record`` at random moments, and hold the folder of records to be whole each time.

A killed run leaves its record or none; numbers have no gaps; what was left behind is gone after the
next run.  Half of the kills fall anywhere in a run, the other half on a process that does nothing
but add records, where nearly every kill falls into a write.

    python -m tests.benchmarks.record_kills --kills 50 --out /tmp/record-kills
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.lots.record.chains import ROOT, whole_chain, writer
from tests.lots.writing import write_lot


def run_of(lot: Path, folder: Path) -> subprocess.Popen[bytes]:
    """One run of the program that writes a record."""
    return subprocess.Popen(
        [sys.executable, "-m", "filmstress", "lot", str(lot), "--record-folder", str(folder)],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def kill_runs(out: Path, kills: int, dice: random.Random) -> None:
    """Kill whole runs anywhere between their start and a little beyond their usual end."""
    lot, folder = write_lot(out, {"01": 200e6}), out / "runs"
    begun = time.perf_counter()
    assert run_of(lot, folder).wait() == 0
    usual = time.perf_counter() - begun
    whole = 1
    for _ in range(kills):
        process = run_of(lot, folder)
        time.sleep(dice.uniform(0.0, 1.1 * usual))
        process.send_signal(signal.SIGKILL)
        process.wait()
        before, whole = whole, whole_chain(folder)
        assert whole - before in (0, 1)
    print(f"runs: {kills} killed within {1.1 * usual:.2f} s, {whole - 1} had their record")
    assert run_of(lot, folder).wait() == 0
    assert whole_chain(folder) == whole + 1
    assert not (folder / ".unfinished").exists()


def kill_writers(out: Path, kills: int, dice: random.Random) -> None:
    """Kill a process that adds one record after another."""
    folder, left = out / "writers", 0
    for _ in range(kills):
        process = writer(folder, 10**6)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(dice.uniform(0.0, 0.05))
        process.send_signal(signal.SIGKILL)
        process.communicate()
        whole = whole_chain(folder)
        left += (folder / ".unfinished").exists()
    print(f"writers: {kills} killed, {whole} whole records, {left} left a file unfinished")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    given.out.mkdir(parents=True)
    dice = random.Random(given.seed)
    kill_runs(given.out, given.kills, dice)
    kill_writers(given.out, given.kills, dice)


if __name__ == "__main__":
    main()
