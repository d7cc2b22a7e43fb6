"""What must hold of the program whatever file it is given, and how it is watched."""

from __future__ import annotations

import math
import random
import signal
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from tests.cli._run import Ended
from tests.fuzzing.doors import DOORS, Answer
from tests.fuzzing.mutations import mutate
from tests.fuzzing.seeds import Seed, lay_out

MOST_SECONDS = 5.0
MOST_GROWTH_MB = 100.0
CODES = frozenset({0, 1, 2, 3})
_GRAVITY = ("same", "within U", "said", "no number", "silent")

# Changes that leave a file in which nothing contradicts anything: no reader can see them.  Each
# says why; all others must be refused, or said, or leave the answer within its uncertainty.
UNSEEN = {
    "a unit changed": "one word scales a whole column, and any scale may be meant",
    "several": "one of them may be such a change",
}
# Where heights stand alone, a point's place is its line's number.
UNSEEN_WITHOUT_POSITIONS = frozenset(
    {"lines gone", "lines twice", "lines swapped", "blocks shuffled", "a piece moved"}
)
# Heights as numbers of the machine: any bytes are some, and any checksum was made right again.
UNSEEN_IN = (".bin", "binary")
# One number scales a whole axis, and the checksum that would have told was made right again.
UNSEEN_IN_DESCRIPTIONS = frozenset(
    {"a digit changed", "a number scaled", "a sign changed", "bits flipped"}
)
# Without its marks a column is another one; that a number begins with 0, padded ones do as well.
_UNMARKED = "decimal marks changed"


def could_be_seen(seed: str, kind: str) -> bool:
    """Whether such a change leaves something in the file that contradicts it."""
    if any(part in seed for part in UNSEEN_IN):
        return False
    if seed.startswith(("steps", "study")) and kind == _UNMARKED:
        return False
    if seed.endswith("main.xml") and kind in UNSEEN_IN_DESCRIPTIONS:
        return False
    return kind not in UNSEEN and not ("interval" in seed and kind in UNSEEN_WITHOUT_POSITIONS)


class HangError(BaseException):
    """A file took too long; no ``except Exception`` on the way holds it up."""


@dataclass(slots=True)
class Cost:
    """What one file took."""

    seconds: float = 0.0
    growth_mb: float = 0.0


@contextmanager
def watched() -> Iterator[Cost]:
    """Measure time (of this process) and growth of memory; end what takes far too long."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise HangError

    # Time of this process; of the clock only where a file makes it wait, for others take time too.
    timers = (
        (signal.SIGPROF, signal.ITIMER_PROF, 2 * MOST_SECONDS),
        (signal.SIGALRM, signal.ITIMER_REAL, 24 * MOST_SECONDS),
    )
    before = [signal.signal(name, stop) for name, _, _ in timers]
    for _, timer, seconds in timers:
        signal.setitimer(timer, seconds)
    cost = Cost()
    _forget_peak()
    memory, begun = _memory_mb("VmRSS"), time.process_time()
    try:
        yield cost
    finally:
        for (name, timer, _), old in zip(timers, before, strict=True):
            signal.setitimer(timer, 0.0)
            signal.signal(name, old)
        cost.seconds = time.process_time() - begun
        cost.growth_mb = _memory_mb("VmHWM") - memory


def _forget_peak() -> None:
    """Let the kernel count the peak of memory anew, where it can."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def _memory_mb(name: str) -> float:
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
    except OSError:
        return 0.0
    return float(status.partition(f"{name}:")[2].split()[0]) / 1024.0


def fault_of(ended: Ended) -> str:
    """What must not be in how a run ended; "" where all is well."""
    if ended.code not in CODES:
        return f"exit code {ended.code}: {ended.err.strip()[-300:]}"
    if (
        ended.code in {2, 3}
        and not ended.err.strip()
        and '"refus' not in ended.out
        and not ended.out
    ):
        return "refused without a word"
    if "\x1b" in ended.out + ended.err:
        return f"an escape sequence reaches the terminal: {ended.err[:200]!r}"
    if "NaN" in ended.out and ended.out.lstrip().startswith("{"):
        try:
            _ = ended.data
        except AssertionError as error:
            return str(error)
    return ""


@dataclass(slots=True)
class Tally:
    """Counts over many mutated files, and the faults with the files that show them."""

    files: int = 0
    outcomes: Counter[tuple[str, str]] = field(default_factory=Counter)
    faults: list[tuple[str, str, str, bytes]] = field(default_factory=list)
    silent: list[tuple[str, str, str, bytes]] = field(default_factory=list)
    slowest: float = 0.0
    largest_mb: float = 0.0


def judge(clean: Answer, found: Answer) -> tuple[str, str]:
    """What became of the answers: same, "within U", "said", "no number", or "silent" where one is
    another one; and how it differs.
    """
    if len(found.values) != len(clean.values):
        return "said", ""
    worst, told = "same", ""
    for (old, _), (new, expanded) in zip(clean.values, found.values, strict=True):
        if old is None or new is None or expanded is None:
            became = "no number"
        elif abs(new - old) <= 1e-9 * abs(old):
            became = "same"
        elif not math.isfinite(expanded) or abs(new - old) <= expanded:
            became = "within U"
        else:
            became = "said" if found.said - clean.said else "silent"
            told = f"{old:.6g} -> {new:.6g} ± {expanded:.2g}"
        worst = max(worst, became, key=_GRAVITY.index)
    return worst, told


def fuzz(one: Seed, count: int, dice: random.Random, folder: Path, tally: Tally) -> None:
    """Send mutations of a seed through its door."""
    door = DOORS[one.door]
    place = lay_out(one, folder)
    place.write_bytes(one.pack(one.content))
    first, *rest = door.runs(place)
    ended = rest[-1] if rest else first
    assert first.code in {0, 1}, f"the seed itself is refused: {first.err}"
    clean = None if door.answer is None else door.answer(ended.data)
    for _ in range(count):
        kind, content = mutate(dice, one.content)
        ended = send(one, kind, one.pack(content), folder, tally, place)
        if ended is None:
            continue
        became = "read" if ended.code in {0, 1} else "refused"
        if clean is not None and ended.code in {0, 1}:
            assert door.answer is not None
            became, told = judge(clean, door.answer(ended.data))
            if became == "silent":
                tally.silent.append((one.name, kind, told, one.pack(content)))
        tally.outcomes[kind, became] += 1


def send(
    one: Seed, kind: str, content: bytes, folder: Path, tally: Tally, place: Path | None = None
) -> Ended | None:
    """Send one file through a seed's door; None, and a fault in the tally, where it does not hold.

    ``place`` is where the seed's files are laid out already.
    """
    place = place or lay_out(one, folder)
    place.write_bytes(content)
    outcome, ended = "", None
    with watched() as cost:
        try:
            for ended in DOORS[one.door].runs(place):
                outcome = fault_of(ended)
                if outcome:
                    break
        except HangError:
            outcome = "hangs"
        except Exception as error:
            outcome = f"raises {type(error).__name__}: {str(error)[:300]}"
    if not outcome and cost.seconds > MOST_SECONDS:
        outcome = f"takes {cost.seconds:.1f} s"
    if not outcome and cost.growth_mb > MOST_GROWTH_MB:
        outcome = f"takes {cost.growth_mb:.0f} MB"
    tally.files += 1
    tally.slowest = max(tally.slowest, cost.seconds)
    tally.largest_mb = max(tally.largest_mb, cost.growth_mb)
    if not outcome:
        return ended
    tally.faults.append((one.name, kind, outcome, content))
    tally.outcomes[kind, "fault"] += 1
    return None
