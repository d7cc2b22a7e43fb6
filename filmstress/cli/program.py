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
    "thickness": "Film thickness from scans over steps.",
    "lot": "Every wafer of a lot, and the decision on it.",
    "stack": "Layers one after another: stresses, bows, what balances them.",
    "plan": "Before measuring: what would be found, and how sure.",
    "compare": "Recipes, tools or lots against each other.",
    "sweep": "Stress against a process parameter, and what to set.",
    "gauge": "How well the gauge repeats, from a study.",
    "verify": "Recompute a recorded lot from its files.",
    "chart": "Control charts and capability of a recorded recipe.",
    "export": "A scan as X3P or CSV.",
    "substrates": "The substrate table; the moduli of any cut.",
    "simulate": "Draw scans from a known truth.",
    "demo": "Write the demonstration lots.",
}

# Commands of commands: each stands in the folder of the group's name.
GROUPS = {
    "history": (
        "The recorded lots: lists, one in full, copies, corrections.",
        {
            "lots": "Recorded lots with their decisions.",
            "wafers": "Recorded wafers with their stresses.",
            "recipes": "Every recipe and its time.",
            "show": "One entry in full.",
            "correct": "Let a new record count in place of an entry.",
            "where": "Where the history stands.",
            "check": "Whether it is sound.",
            "copy": "Copy it while it is in use.",
            "export": "Every entry as a line of JSON.",
            "import": "Append records or an export.",
        },
    ),
}
_PYTHON_WORDS = {"import": "import_"}


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


def _app(named: list[str]) -> typer.Typer:
    """The program with the one command that is named; the others are known by their summaries."""
    app = _empty("filmstress")
    app.callback()(_root)
    _fill(app, COMMANDS, "filmstress.cli", named[:1])
    for name, (summary, commands) in GROUPS.items():
        group = _empty(name)
        _fill(group, commands, f"filmstress.cli.{name}", named[1:2] if named[:1] == [name] else [])
        app.add_typer(group, name=name, help=summary, short_help=summary)
    return app


def _empty(name: str) -> typer.Typer:
    # rich is switched off: it would double the time of --help and of every error.
    return typer.Typer(
        name=name,
        add_completion=False,
        no_args_is_help=True,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    )


def _fill(app: typer.Typer, commands: dict[str, str], package: str, named: list[str]) -> None:
    for name, summary in commands.items():
        function = _not_named
        if [name] == named:
            word = _PYTHON_WORDS.get(name, name)
            function = getattr(import_module(f"{package}.{word}"), word)
        app.command(name, cls=SectionedCommand, short_help=summary)(function)


def dispatch(arguments: list[str]) -> int:
    """Run one command line and give its exit code; errors of the tree are left to the caller."""
    named = [word for word in arguments if not word.startswith("-")]
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
