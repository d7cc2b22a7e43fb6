"""Work on any executor: in order, few under way, and dead workers survived."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from filmstress.lots.running import in_order
from filmstress.lots.workers import process_pool, processors

ROOT = Path(__file__).parents[2]
posix = pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")


def double(item: int) -> int:
    return 2 * item


def lost(item: int) -> int:
    return -item


def dies_on(item: int, *, bad: frozenset[int], folder: Path, times: int) -> int:
    """Ends its own process at a bad item, so many times."""
    if item in bad:
        deaths = len(list(folder.glob(f"{item}-*")))
        if deaths < times:
            (folder / f"{item}-{deaths}").touch()
            os.kill(os.getpid(), signal.SIGKILL)
    return 2 * item


class Shuffled(Executor):
    """Finishes what it holds in any order, and counts the most that it ever held."""

    def __init__(self) -> None:
        self.most = 0
        self._held: list[tuple[Future[Any], Callable[[], Any]]] = []
        self._wake = threading.Condition()
        self._ended = False
        self._thread = threading.Thread(target=self._work)
        self._thread.start()

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        with self._wake:
            self._held.append((future, partial(fn, *args, **kwargs)))
            self.most = max(self.most, len(self._held))
            self._wake.notify()
        return future

    def _work(self) -> None:
        chance = random.Random(1)
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._held or self._ended)
                if not self._held:
                    return
                future, work = self._held.pop(chance.randrange(len(self._held)))
            future.set_result(work())

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:  # noqa: ARG002
        with self._wake:
            self._ended = True
            self._wake.notify()
        self._thread.join()


@pytest.mark.parametrize("count", [0, 1, 2, 3, 100, 1000])
@pytest.mark.parametrize("workers", [1, 3])
def test_results_come_in_order_and_few_are_under_way(count: int, workers: int) -> None:
    with Shuffled() as executor:
        found = in_order(double, range(count), executor=executor, workers=workers, lost=lost)
        assert list(found) == [2 * item for item in range(count)]
        assert executor.most <= 3 * workers


def test_nothing_runs_far_ahead_of_what_is_taken() -> None:
    begun: list[int] = []
    with ThreadPoolExecutor(2) as executor:
        found = in_order(begun.append, range(10_000), executor=executor, workers=2, lost=lost)
        next(found)
        time.sleep(0.05)
        # Six tasks of at most eight items, and the one that was taken.
        assert len(begun) <= 7 * 8
        found.close()


def test_without_an_executor_it_runs_here() -> None:
    assert list(in_order(double, [3, 4], lost=lost)) == [6, 8]


def test_an_error_of_the_work_is_the_callers() -> None:
    with ThreadPoolExecutor(1) as executor, pytest.raises(ZeroDivisionError):
        list(in_order((1).__truediv__, [1, 0], executor=executor, workers=1, lost=lost))


@posix
@pytest.mark.parametrize("own", [True, False], ids=["our pool", "a pool of the caller's"])
def test_a_killed_worker_changes_nothing(tmp_path: Path, own: bool) -> None:
    work = partial(dies_on, bad=frozenset({5, 17}), folder=tmp_path, times=1)
    with process_pool(2) if own else ProcessPoolExecutor(2) as executor:
        found = list(in_order(work, range(40), executor=executor, workers=2, lost=lost))
    assert found == [2 * item for item in range(40)]
    assert len(list(tmp_path.iterdir())) == 2


@posix
def test_what_kills_every_worker_is_given_up_and_nothing_else(tmp_path: Path) -> None:
    work = partial(dies_on, bad=frozenset({5, 17}), folder=tmp_path, times=99)
    with process_pool(2) as executor:
        found = list(in_order(work, range(40), executor=executor, workers=2, lost=lost))
    assert found == [-item if item in {5, 17} else 2 * item for item in range(40)]


def test_at_least_one_processor() -> None:
    assert processors() >= 1


def _pid_then_wait(folder: Path) -> None:
    (folder / str(os.getpid())).touch()
    time.sleep(60.0)


def gone(pid: int, within_s: float = 10.0) -> bool:
    """Whether a process ends in time; one that only waits to be asked how has ended."""
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        try:
            if Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z":
                return True
            os.kill(pid, 0)
        except (ProcessLookupError, FileNotFoundError):
            return True
        time.sleep(0.02)
    return False


def _pids(folder: Path, count: int) -> list[int]:
    end = time.monotonic() + 20.0
    while len(found := list(folder.iterdir())) < count and time.monotonic() < end:
        time.sleep(0.02)
    assert len(found) == count
    return [int(path.name) for path in found]


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at processes of Linux")
def test_workers_go_at_once_when_the_block_is_left_by_an_interrupt(tmp_path: Path) -> None:
    pids: list[int] = []

    def interrupted() -> None:
        with process_pool(2) as executor:
            for _ in range(2):
                executor.submit(_pid_then_wait, tmp_path)
            pids.extend(_pids(tmp_path, 2))
            raise KeyboardInterrupt

    start = time.monotonic()
    with pytest.raises(KeyboardInterrupt):
        interrupted()
    assert all(map(gone, pids))
    assert time.monotonic() - start < 30.0


def hold_two(folder: Path) -> None:
    """Keep two workers busy for a minute."""
    with process_pool(2) as executor:
        for future in [executor.submit(_pid_then_wait, folder) for _ in range(2)]:
            future.result()


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at processes of Linux")
def test_workers_follow_a_parent_that_is_killed(tmp_path: Path) -> None:
    code = (
        "import sys, pathlib\n"
        "from tests.lots.test_running import hold_two\n"
        "hold_two(pathlib.Path(sys.argv[1]))\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], cwd=ROOT)
    pids = _pids(tmp_path, 2)
    parent.kill()
    parent.wait()
    assert all(map(gone, pids))
