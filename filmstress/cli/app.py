"""The program's door: arguments in, exit code out, and no traceback in between.

Nothing but the standard library is imported here before the door is watched, so that an interrupt
or a broken installation during the first imports ends in words as well.
"""

from __future__ import annotations

import gc
import os
import sys
import warnings
from collections.abc import Sequence

from filmstress.cli import exits
from filmstress.cli.output import say
from filmstress.errors import Faults, FilmstressError, InternalError
from filmstress.version import VERSION


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the program and leave with its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        The command line's words; those of the process by default.
    """
    # The idle second thread of a linear-algebra library costs more than it gives at our sizes.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    if not sys.warnoptions:
        # What a reader must know is said in the result; a library's warnings speak to developers.
        warnings.simplefilter("ignore")
    code = run(sys.argv[1:] if arguments is None else list(arguments))
    # At exit the interpreter would search every module for garbage: a tenth of a short run.
    gc.freeze()
    sys.exit(code)


def run(arguments: list[str]) -> int:
    """Run one command line; every error becomes words on stderr and an exit code."""
    try:
        from filmstress.cli.program import dispatch

        code = dispatch(arguments)
        if code == exits.INTERRUPTED:
            say("interrupted")
        return code
    except KeyboardInterrupt:
        say("interrupted")
        return exits.INTERRUPTED
    except InternalError as error:
        return _internal(" ".join(str(error).split()))
    except FilmstressError as error:
        for fault in error.faults if isinstance(error, Faults) else (error,):
            say(f"filmstress: {fault}")
        return exits.code_of(error)
    except (OSError, MemoryError) as error:
        # What the rooms do not know how to name: a full disk, a machine at its end.
        say(f"filmstress: the system refused: {error or 'out of memory'}")
        return exits.REFUSED
    except Exception as error:
        code = _internal(f"{type(error).__name__}: {' '.join(str(error).split())}")
        if os.environ.get("FILMSTRESS_TRACEBACK"):
            raise
        return code


def _internal(told: str) -> int:
    say(
        f"filmstress {VERSION}: internal error: {told}; please report this line with the command "
        "and, where you may, the files"
    )
    return exits.INTERNAL
