"""Every error filmstress raises, as one tree.

    FilmstressError
    ├── UsageError            the call itself is wrong (unknown option, argument missing)
    ├── RefusedInput          the call is right, what it names cannot be used
    │   ├── QuantityError     a text that cannot be read as the quantity wanted
    │   ├── SubstrateError    a material, cut or crystal direction that is not known
    │   ├── ScanError         a file that cannot be read as a scan
    │   ├── LotError          a lot file or wafer table
    │   ├── HistoryError      a history that cannot be read or written
    │   ├── MeasurementRefused  readable data that cannot carry a stress
    │   └── Faults            several of the above at once
    └── InternalError         a fault of filmstress itself

A message says where, what came and what is wanted; the hint says how to write it.  Exit codes are
given to these classes in one place, ``filmstress.cli.exits``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


class FilmstressError(Exception):
    """Base of all errors of this package.

    Parameters
    ----------
    message : str
        What came and what is wanted, one sentence.
    where : str
        The option, key, or file (with line and column) the message is about.
    hint : str
        How to write it right, or what to do next.
    """

    def __init__(self, message: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        head = f"{self.where}: {self.message}" if self.where else self.message
        return f"{head}\n  {self.hint}" if self.hint else head

    def __reduce__(self) -> tuple[Any, ...]:
        # Keyword-only arguments do not survive the default pickling, and lots cross processes.
        return _rebuild, (type(self), self.__dict__)


def _rebuild(kind: type[FilmstressError], state: dict[str, Any]) -> FilmstressError:
    error = kind.__new__(kind)
    error.args = (state["message"],)
    error.__dict__.update(state)
    return error


class UsageError(FilmstressError):
    """The call is wrong: an unknown option, a missing argument, options that exclude each other."""


class RefusedInput(FilmstressError):  # noqa: N818 - the error is the refusal
    """The call is right, but something it names cannot be used."""


class QuantityError(RefusedInput):
    """A text that cannot be read as the physical quantity that is wanted."""


class SubstrateError(RefusedInput):
    """A material, cut or crystal direction that the substrate table does not know."""


class LotError(RefusedInput):
    """A lot file or wafer table that cannot be used."""


class HistoryError(RefusedInput):
    """A history of measurements that cannot be opened, read or written."""


class ScanError(RefusedInput):
    """A file that cannot be read as a height scan.

    ``line`` and ``column`` count from 1 and are None where the fault has no such place.
    """

    def __init__(
        self,
        message: str,
        *,
        where: str = "",
        hint: str = "",
        line: int | None = None,
        column: int | None = None,
    ) -> None:
        if line is not None:
            where = f"{where}, line {line}" + (f", column {column}" if column is not None else "")
        super().__init__(message, where=where, hint=hint)
        self.line = line
        self.column = column


class MeasurementRefused(RefusedInput):
    """Data that were read but cannot carry a stress; ``code`` is one of the refusal codes."""

    def __init__(self, message: str, *, code: str, where: str = "", hint: str = "") -> None:
        super().__init__(message, where=where, hint=hint)
        self.code = code


class Faults(RefusedInput):
    """Several refused inputs at once, so that one run shows everything there is to mend."""

    def __init__(self, faults: Sequence[FilmstressError]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = tuple(faults)


class InternalError(FilmstressError):
    """A fault of filmstress itself, not of what it was given."""
