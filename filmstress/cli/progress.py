"""How far a long run is: one line on a terminal, nothing anywhere else."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import monotonic

_WIDTH = 30
# A run that is done before this [s] needs no line; a line need not change more often than that.
_PATIENCE, _EVERY = 0.5, 0.1
# How long it still takes cannot be told from less: seconds, and things done, for they come in
# batches.
_LEAST_SECONDS, _LEAST_DONE = 2.0, 9


@contextmanager
def progress(noun: str) -> Iterator[Callable[[str, int, int], None] | None]:
    """Give a function that draws "what, done, of how many"; None where nobody watches.

    The line is wiped when the block is left, however it is left.
    """
    out = sys.stderr
    if out is None or not out.isatty() or os.environ.get("TERM") == "dumb":
        yield None
        return
    line = _Line(noun)
    try:
        yield line.tell
    finally:
        line.wipe()


class _Line:
    def __init__(self, noun: str) -> None:
        self._noun, self._what = noun, ""
        self._begun = monotonic()
        self._next = self._begun + _PATIENCE
        self._shown = 0

    def tell(self, what: str, done: int, total: int) -> None:
        now = monotonic()
        if what != self._what:
            self._what, self._begun = what, now
        if now >= self._next:
            self._next = now + _EVERY
            self._draw(said(what, self._noun, done, total, now - self._begun))

    def wipe(self) -> None:
        if self._shown:
            self._write("\r" + " " * self._shown + "\r")
            self._shown = 0

    def _draw(self, text: str) -> None:
        text = text[: _columns() - 1]
        padded = text.ljust(self._shown)
        # First, for an interrupt may come in the middle of the writing.
        self._shown = len(padded)
        self._write("\r" + padded)
        self._shown = len(text)

    @staticmethod
    def _write(text: str) -> None:
        try:
            sys.stderr.write(text)
            sys.stderr.flush()
        except OSError:
            pass  # the terminal has gone; the work goes on


def _columns() -> int:
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns or 80
    except OSError:
        return 80


def said(what: str, noun: str, done: int, total: int, seconds: float) -> str:
    """The line: what, a strip that fills up, how many of how many, how long it may still take."""
    full = _WIDTH * done // total if total else _WIDTH
    words = f"{what}  {'=' * full}{'.' * (_WIDTH - full)}  {done} of {total} {noun}"
    if _LEAST_DONE <= done < total and seconds > _LEAST_SECONDS:
        words += f", about {_spoken(seconds / done * (total - done))} left"
    return words


def _spoken(seconds: float) -> str:
    if seconds < 90.0:
        return f"{max(1, round(seconds))} s"
    minutes = seconds / 60.0
    return f"{round(minutes)} min" if minutes < 90.0 else f"{minutes / 60.0:.1f} h"
