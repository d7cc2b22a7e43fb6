"""``filmstress demo``: the demonstration lots, drawn again."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.output import say, show, show_json


def demo(
    directory: Annotated[str, typer.Argument(metavar="DIR", help="New or empty folder.")],
    json: Annotated[bool, typer.Option("--json", help="The files written, as JSON.")] = False,
) -> None:
    """Write the demonstration lots: scans, lot files, and the truth they were drawn from."""
    from pathlib import Path

    from filmstress.report.data import headed
    from filmstress.simulate.demo import write_demo
    from filmstress.version import VERSION

    files = write_demo(directory)
    if json:
        show_json({**headed("demo", VERSION), "files": [str(path) for path in files]})
        return
    lots = [path for path in files if Path(path).name == "lot.toml"]
    say(f"{len(files)} files written; now try, for example:")
    for path in lots:
        show(f"filmstress lot {path}")
