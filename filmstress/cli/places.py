"""Files that a command writes beside its output: asked for first, written last.

By the time they are written the result has been shown: a full disk takes no numbers away.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from filmstress.cli.output import say
from filmstress.errors import UsageError

Figure = Annotated[
    str | None, typer.Option("--figure", metavar="FILE", help="Draw it: .png, .svg or .pdf.")
]
Report = Annotated[
    str | None,
    typer.Option("--report", metavar="FILE", help="Write it as one page to read and sign: .html."),
]


def check_places(figure: str | None, report: str | None = None) -> None:
    """Refuse names and places of files before anything long is begun.

    Raises
    ------
    UsageError
        An ending that is not a format.
    RefusedInput
        A place that cannot be written to.
    """
    if figure is None and report is None:
        return
    from filmstress.report.files import writable

    if figure is not None:
        from filmstress.report.figures.saving import figure_format

        figure_format(figure)
        writable(figure, what="the figure")
    if report is not None:
        if Path(report).suffix.lower() not in {".html", ".htm"}:
            raise UsageError(
                "a report is written as .html",
                where=report,
                hint="write 'report.html'; a browser prints it to paper or PDF",
            )
        writable(report, what="the report")


def write_figure(drawn: Any, path: str) -> None:
    """Write what a function of `filmstress.report.figures` drew, and say where."""
    from filmstress.report.figures.saving import save_figure

    save_figure(drawn, path)
    say(f"figure written: {path}")


def write_report(page: str, path: str) -> None:
    """Write a page and say where."""
    from filmstress.report.files import write_whole

    write_whole(path, page.encode(), what="the report")
    say(f"report written: {path}")
