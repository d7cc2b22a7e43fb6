"""Work on many wafers on any executor: few under way at once, results in order, deaths survived."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import ExitStack
from typing import Generic, Protocol, TypeVar

from filmstress.lots.workers import process_pool
from filmstress.records.wafer import WaferSpec

Item = TypeVar("Item")
Found = TypeVar("Found")


class Run(Protocol):
    """Gives results of a function for each wafer, in order; None for a wafer that is lost."""

    def __call__(
        self, function: Callable[[WaferSpec], Found | None], wafers: Sequence[WaferSpec]
    ) -> Iterator[Found | None]:
        """Run."""


# Tasks under way for each worker: enough that none waits for the next.
_AHEAD = 3
_LONGEST_CHUNK = 8
_TRIES = 2


def in_order(
    function: Callable[[Item], Found],
    items: Sequence[Item],
    *,
    executor: Executor | None = None,
    workers: int = 1,
    lost: Callable[[Item], Found],
) -> Iterator[Found]:
    """Results of a function for every item, in the order of the items.

    However many the items, only a few for each worker are under way, so that the memory taken does
    not grow with them.  Where a worker dies, what was under way is done again, item by item.

    Parameters
    ----------
    function : callable
        Of one item.  Where the executor runs processes, both must be fit for pickling.
    items : sequence
    executor : concurrent.futures.Executor, optional
        Where to run; by default here, one after another.
    workers : int
        How many run at once on it.
    lost : callable
        What to give for an item that ended its worker each time it was tried alone.
    """
    if executor is None:
        yield from map(function, items)
        return
    with ExitStack() as opened:
        run = _Run(function, executor, workers, opened)
        waiting: deque[tuple[Sequence[Item], Future[list[Found]]]] = deque()
        chunks = _chunks(items, workers)
        try:
            while True:
                while len(waiting) < _AHEAD * workers and (chunk := next(chunks, None)):
                    waiting.append((chunk, run.submit(chunk)))
                if not waiting:
                    return
                chunk, future = waiting.popleft()
                try:
                    found = future.result()
                except Exception as error:
                    if not _died(error):
                        raise
                    # Any of those under way may have done it: each shows alone.
                    for item in chunk:
                        yield run.alone(item, lost)
                else:
                    yield from found
        finally:
            for _, future in waiting:
                future.cancel()


class _Run(Generic[Item, Found]):
    """An executor that is replaced by a fresh pool of processes when it breaks."""

    def __init__(
        self,
        function: Callable[[Item], Found],
        executor: Executor,
        workers: int,
        opened: ExitStack,
    ) -> None:
        self._function, self._executor, self._workers = function, executor, workers
        self._opened = opened

    def submit(self, chunk: Sequence[Item]) -> Future[list[Found]]:
        try:
            return self._executor.submit(_each, self._function, chunk)
        except BrokenExecutor:
            self._opened.close()  # of an earlier break
            self._executor = self._opened.enter_context(process_pool(self._workers))
            return self._executor.submit(_each, self._function, chunk)

    def alone(self, item: Item, lost: Callable[[Item], Found]) -> Found:
        for _ in range(_TRIES):
            try:
                (found,) = self.submit([item]).result()
            except Exception as error:
                if not _died(error):
                    raise
            else:
                return found
        return lost(item)


def _each(function: Callable[[Item], Found], chunk: Sequence[Item]) -> list[Found]:
    return [function(item) for item in chunk]


def _chunks(items: Sequence[Item], workers: int) -> Iterator[Sequence[Item]]:
    """Long runs of items first, for the executor's sake, and short ones last, to end together."""
    start = 0
    while start < len(items):
        size = (len(items) - start) // (4 * workers)
        size = max(1, min(size, _LONGEST_CHUNK))
        yield items[start : start + size]
        start += size


def _died(error: Exception) -> bool:
    """Whether a worker died with the work: so say pools, and Dask by an error of its own."""
    return isinstance(error, BrokenExecutor) or type(error).__name__ == "KilledWorker"
