"""Worker processes that go when their parent goes."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.connection import wait


def processors() -> int:
    """Processors that this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@contextmanager
def process_pool(workers: int) -> Iterator[Executor]:
    """An executor of processes, for `measure_lot`.

    Where the block is left by an error or an interrupt the processes are ended at once; an
    interrupt from the keyboard is for the parent alone to answer.

    Parameters
    ----------
    workers : int
        Processes.

    Yields
    ------
    concurrent.futures.Executor
    """
    others = {child.pid for child in multiprocessing.active_children()}
    pool = ProcessPoolExecutor(workers, mp_context=_context(), initializer=_begin)
    try:
        yield pool
    except BaseException:
        # Nobody waits any more for what is under way.
        for child in multiprocessing.active_children():
            if child.pid not in others:
                child.kill()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _context() -> multiprocessing.context.BaseContext:
    """The quickest safe start: a fork has all modules loaded, but must not split threads."""
    if sys.platform == "linux":
        alone = threading.active_count() == 1
        return multiprocessing.get_context("fork" if alone else "forkserver")
    return multiprocessing.get_context("spawn")


def _begin() -> None:
    # What is loaded stays: it need not be searched for garbage, nor its memory be copied for that.
    gc.freeze()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow, daemon=True).start()


def _follow() -> None:
    """End this process when its parent has ended, be it by force."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
