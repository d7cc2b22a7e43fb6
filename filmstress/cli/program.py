"""The program ``filmstress``: its commands, put together."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.output import say
from filmstress.cli.sections import SectionedCommand
from filmstress.version import VERSION

# typer carries its own copy of its parser in some versions and not in others; the base of all its
# usage errors is reached through the one name that both export.
_ParserError: type[Exception] = typer.BadParameter.__mro__[2]

# Each stands in the file of its name, which is loaded only to run it.
COMMANDS = {
    "inspect": "What is read from scan files, and each one's curvature.",
    "measure": "Stress of one film from scans before and after.",
    "lot": "Every wafer of a lot, and the decision on it.",
    "verify": "Recompute a recorded lot from its files.",
    "substrates": "The substrate table; the moduli of any cut.",
    "simulate": "Draw scans from a known truth.",
    "demo": "Write the demonstration lots.",
}


def _print_version(wanted: bool) -> None:
    if wanted:
        sys.stdout.write(f"filmstress {VERSION}\n")
        raise typer.Exit


def _root(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Show the version and exit."
        ),
    ] = False,
) -> None:
    """Film stress from wafer curvature, with an uncertainty that holds.

    Height scans before and after deposition are subtracted, a radius of curvature is fitted, and
    the film's stress follows with its uncertainty. Quantities are texts with a unit:
    "525 um ± 2 um".
    """


def _not_named() -> None:
    """Stands for a command that the command line does not name."""


def _app(named: str) -> typer.Typer:
    """The program with the one command that is named; the others are known by their summaries."""
    # rich is switched off: it would double the time of --help and of every error.
    app = typer.Typer(
        name="filmstress",
        add_completion=False,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    )
    app.callback()(_root)
    for name, summary in COMMANDS.items():
        function = _not_named
        if name == named:
            function = getattr(import_module(f"filmstress.cli.{name}"), name)
        app.command(name, cls=SectionedCommand, short_help=summary)(function)
    return app


def dispatch(arguments: list[str]) -> int:
    """Run one command line and give its exit code; errors of the tree are left to the caller."""
    named = next((word for word in arguments if not word.startswith("-")), "")
    try:
        code = typer.main.get_command(_app(named)).main(
            args=arguments, prog_name="filmstress", standalone_mode=False
        )
    except _ParserError as error:
        error.show()  # type: ignore[attr-defined]
        if "extra argument" in str(getattr(error, "message", "")):
            say('A quantity written with spaces needs quotes: --film-thickness "500 nm".')
        return exits.USAGE
    except typer.Abort:
        return exits.INTERRUPTED
    except SystemExit:
        # How the parser leaves when the reader of its help has gone away.
        return exits.DONE
    return code if isinstance(code, int) else exits.DONE
