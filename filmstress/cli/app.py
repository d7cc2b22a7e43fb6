"""The program ``filmstress``: its commands, and the one place where errors become exit codes."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.demo import demo
from filmstress.cli.inspect import inspect
from filmstress.cli.lot import lot
from filmstress.cli.measure import measure
from filmstress.cli.output import say
from filmstress.cli.sections import SectionedCommand
from filmstress.cli.simulate import simulate
from filmstress.cli.substrates import substrates
from filmstress.errors import FilmstressError
from filmstress.version import VERSION

# typer carries its own copy of its parser in some versions and not in others; the base of all its
# usage errors is reached through the one name that both export.
_ParserError: type[Exception] = typer.BadParameter.__mro__[2]

# rich is switched off: it would double the time of --help and of every error.
app = typer.Typer(
    name="filmstress",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _print_version(wanted: bool) -> None:
    if wanted:
        sys.stdout.write(f"filmstress {VERSION}\n")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Show it.")
    ] = False,
) -> None:
    """Film stress from wafer curvature.

    Height scans before and after deposition are subtracted, a radius of curvature is fitted, and
    the film's stress follows with its uncertainty. Quantities are texts with a unit:
    "525 um ± 2 um".
    """


for _command in (inspect, measure, lot, substrates, simulate, demo):
    app.command(cls=SectionedCommand)(_command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the program and leave with its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        The command line's words; those of the process by default.
    """
    # The idle second thread of a linear-algebra library costs more than it gives at our sizes.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.exit(_run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    try:
        command = typer.main.get_command(app)
        code = command.main(
            args=None if arguments is None else list(arguments),
            prog_name="filmstress",
            standalone_mode=False,
        )
        return code if isinstance(code, int) else exits.DONE
    except _ParserError as error:
        error.show()  # type: ignore[attr-defined]
        return exits.USAGE
    except (typer.Abort, KeyboardInterrupt):
        say("interrupted")
        return exits.INTERRUPTED
    except FilmstressError as error:
        say(f"filmstress: {error}")
        return exits.code_of(error)
    except Exception as error:
        say(
            f"filmstress {VERSION}: internal error: {type(error).__name__}: {error}; please report "
            "it with the command and, where you may, the files"
        )
        if os.environ.get("FILMSTRESS_TRACEBACK"):
            raise
        return exits.INTERNAL
