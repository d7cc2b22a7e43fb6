"""The small version of ``tests.benchmarks.fuzz``: a few mutations of each seed of a door."""

from __future__ import annotations

import random
from pathlib import Path

from tests.fuzzing.judging import Tally, could_be_seen, fuzz
from tests.fuzzing.seeds import seeds


def hold(door: str, count: int, folder: Path) -> None:
    """Hold that no mutation makes a fault, or gives another answer without a word."""
    dice, tally = random.Random(20), Tally()
    for one in seeds():
        if one.door == door:
            fuzz(one, count, dice, folder, tally)
    assert tally.files
    faults = [fault[:3] for fault in tally.faults]
    assert not faults, faults
    silent = [one[:3] for one in tally.silent if could_be_seen(one[0], one[1])]
    assert not silent, silent
