"""``filmstress demo``: the demonstration lots, drawn again."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.output import say, show, show_json


def demo(
    directory: Annotated[
        str, typer.Argument(metavar="DIR", help="Folder that is empty or does not exist yet.")
    ],
    json: Annotated[
        bool, typer.Option("--json", help="One JSON object that lists the files written.")
    ] = False,
) -> None:
    """Write the demonstration lots: scans, lot files, and the truth they were drawn from.

    Prints a command for each lot, for a stack, and for the steps of a film.
    """
    from shlex import quote

    from filmstress.report.quantities import headed
    from filmstress.simulate.demo import write_demo
    from filmstress.version import VERSION

    files = write_demo(directory)
    if json:
        show_json({**headed("demo", VERSION), "files": [str(path) for path in files]}, {})
        return
    say(f"{len(files)} files written; truth.toml in each lot holds the answer. Now try:")
    commands = {"lot.toml": "lot", "stack.toml": "stack", "step-1.csv": "thickness"}
    show(
        "\n".join(
            f"filmstress {commands[path.name]} {quote(str(path))}"
            for path in files
            if path.name in commands
        )
    )
