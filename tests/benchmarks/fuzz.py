"""Mutated files through every door of the program, counted by what becomes of them.

No file may end in a traceback or an internal error, take more than 5 s or 100 MB, send an escape
sequence to the terminal, or, as a scan, give another answer without a word.

    python -m tests.benchmarks.fuzz --files 20000 --hostile --out /tmp/fuzz

Seeds stand in ``tests/fuzzing/seeds.py``, doors in ``doors.py``; files that showed a fault are
kept in --out.
"""

from __future__ import annotations

import argparse
import math
import random
import time
from collections import Counter
from pathlib import Path

from tests.cli._run import process
from tests.fuzzing.hostile import FILES, TOKENS, of_one
from tests.fuzzing.judging import Tally, could_be_seen, fault_of, fuzz, send
from tests.fuzzing.mutations import mutate
from tests.fuzzing.seeds import lay_out, seed_of, seeds

_BECAME = ("refused", "read", "same", "within U", "said", "silent", "no number", "fault")


def report(tally: Tally, seconds: float) -> None:
    """Print counts by kind of mutation, and every fault."""
    kinds = sorted({kind for kind, _ in tally.outcomes})
    print(f"{'':28}" + "".join(f"{name:>11}" for name in _BECAME))
    for kind in kinds:
        print(f"{kind:28}" + "".join(f"{tally.outcomes[kind, name]:11}" for name in _BECAME))
    print(
        f"{tally.files} files in {seconds:.0f} s; slowest {tally.slowest:.2f} s, "
        f"most memory {tally.largest_mb:.0f} MB; {len(tally.faults)} faults"
    )
    for (kind, seed, told), count in Counter(
        (kind, seed, told) for seed, kind, told, _ in tally.faults
    ).most_common(60):
        print(f"  {count} x {seed}, {kind}: {told}")
    silent = Counter((seed, kind) for seed, kind, _, _ in tally.silent)
    print("another answer without a word, where nothing in the file contradicts it:")
    print({at: count for at, count in silent.items() if not could_be_seen(*at)})
    print("another answer without a word, where it could have been seen:")
    print({at: count for at, count in silent.items() if could_be_seen(*at)})


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=20_000)
    parser.add_argument(
        "--processes", type=int, default=200, help="files by a process of their own"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--hostile", action="store_true", help="files made to take for ever, too")
    parser.add_argument("--door", help="only this one")
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    dice, tally = random.Random(given.seed), Tally()
    chosen = [one for one in seeds() if given.door in (None, one.door)]
    names = Counter(one.name for one in chosen)
    begun = time.perf_counter()
    for one in chosen:
        count = math.ceil(given.files / len(names) / names[one.name])
        fuzz(one, count, dice, given.out / "files", tally)
        print(f"{one.name}: {count}, {len(tally.faults)} faults so far", flush=True)
    for number in range(given.processes):
        one = chosen[number % len(chosen)]
        if one.door not in ("inspect", "gauge", "stack", "lot", "verify"):
            continue
        place = lay_out(one, given.out / "files")
        kind, content = mutate(dice, one.content)
        place.write_bytes(one.pack(content))
        ended = process(*one.door.split(), str(place))
        tally.files += 1
        if told := fault_of(ended):
            tally.faults.append((one.name, kind, told, content))
    if given.hostile:
        for token in TOKENS:
            for wanted, text in of_one(token):
                one, told = seed_of(wanted), f"little but {token!r}"
                send(one, told, one.pack(text.encode()), given.out / "files", tally)
        for wanted, text in FILES:
            one = seed_of(wanted)
            send(one, text[:30], one.pack(text.encode()), given.out / "files", tally)
    report(tally, time.perf_counter() - begun)
    for number, (seed, kind, told, content) in enumerate([*tally.faults, *tally.silent]):
        kept = given.out / f"kept-{number:04}"
        kept.write_bytes(content)
        kept.with_suffix(".txt").write_text(f"{seed}\n{kind}\n{told}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
