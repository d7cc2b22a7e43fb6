"""Exit codes, in one place.

====  ==========================================================================
0     done, and accepted where a decision is asked
1     done, and not accepted (rejected, undecided; a recomputation that differs)
2     wrong usage: unknown option, missing argument
3     the input was refused: a quantity, a file, a measurement that carries no stress
4     an internal error
130   interrupted
====  ==========================================================================
"""

from __future__ import annotations

from filmstress.errors import FilmstressError, RefusedInput, UsageError

DONE = 0
NOT_ACCEPTED = 1
USAGE = 2
REFUSED = 3
INTERNAL = 4
INTERRUPTED = 130


def code_of(error: FilmstressError) -> int:
    """The exit code that an error of the tree stands for."""
    if isinstance(error, UsageError):
        return USAGE
    if isinstance(error, RefusedInput):
        return REFUSED
    return INTERNAL
