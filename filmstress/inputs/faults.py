"""Faults gathered while reading on, so that one run shows everything there is to mend."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from filmstress.errors import Faults, FilmstressError, RefusedInput

# Nobody mends more at a time, and a file of nothing but faults must come to an end.
MOST_FAULTS = 500

T = TypeVar("T")


class FaultList:
    """Faults in the order in which they were met, each once."""

    def __init__(self) -> None:
        self._found: dict[str, FilmstressError] = {}

    def __len__(self) -> int:
        return len(self._found)

    def add(self, fault: FilmstressError) -> None:
        """Take in a fault, or everything a collection of them holds.

        Raises
        ------
        Faults
            So many were found that reading on would help nobody.
        """
        for one in fault.faults if isinstance(fault, Faults) else (fault,):
            self._found.setdefault(str(one), one)
        if len(self._found) > MOST_FAULTS:
            more = RefusedInput(
                f"more than {MOST_FAULTS} faults were found, and the rest was not read",
                hint="mend the first of them, then run it again",
            )
            raise Faults((*self.listed()[:MOST_FAULTS], more))

    def attempt(self, read: Callable[[], T], fallback: T) -> T:
        """What ``read`` gives, or ``fallback`` where it raises a fault."""
        try:
            return read()
        except FilmstressError as fault:
            self.add(fault)
            return fallback

    def listed(self) -> tuple[FilmstressError, ...]:
        """All of them."""
        return tuple(self._found.values())

    def raise_any(self) -> None:
        """Raise what was found, if anything.

        Raises
        ------
        FilmstressError
            The fault itself where there is one, `Faults` where there are several.
        """
        if not self._found:
            return
        found = self.listed()
        raise found[0] if len(found) == 1 else Faults(found)
