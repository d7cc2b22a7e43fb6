"""``filmstress lot``: every wafer of a lot file, and the decision."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import Json, Noise, noise_setting, only_one
from filmstress.cli.output import say, show, show_csv, show_json
from filmstress.cli.places import Report, check_places, write_report

if TYPE_CHECKING:
    from concurrent.futures import Executor

# Below this many wafers, starting worker processes costs more than it saves.
_WORTH_A_POOL = 20


def lot(
    file: Annotated[str, typer.Argument(metavar="LOT.toml", help="The lot file.")],
    json: Json = False,
    csv: Annotated[bool, typer.Option("--csv", help="A table, one row a wafer.")] = False,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs", metavar="N", min=1, help="Processes; by default as many as it helps."
        ),
    ] = None,
    noise: Noise = None,
    figure: Annotated[
        str | None,
        typer.Option(
            "--figure", metavar="FILE", help="Draw every wafer's stress: .png, .svg or .pdf."
        ),
    ] = None,
    report: Report = None,
) -> None:
    """Measure every wafer of a lot and decide on it against its specification.

    The exit code is 0 where it is accepted, or has no specification, 1 where it is rejected or
    undecided, 3 where the lot file, or every wafer, was refused. Without --noise, residuals are
    judged safely where there is a specification.
    """
    from filmstress.lots.batch import measure_lot
    from filmstress.lots.manifest import read_lot
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    setting = noise_setting(noise)
    check_places(figure, report)
    spec = read_lot(file)
    with _workers(jobs, len(spec.wafers)) as executor:
        result = measure_lot(spec, executor=executor, setting=setting)
    if json:
        from filmstress.report.lot import lot_data

        show_json(lot_data(result, VERSION))
    elif csv:
        from filmstress.report.lot import TABLE_HEADS, table_rows

        show_csv(TABLE_HEADS, table_rows(result))
    else:
        from filmstress.report.lot import lot_text

        show(lot_text(result))
    if figure is not None:
        from filmstress.report.figures.lot import draw_lot
        from filmstress.report.figures.saving import save_figure

        save_figure(draw_lot(result), figure)
        say(f"figure written: {figure}")
    if report is not None:
        from filmstress.report.page.writing import lot_page

        write_report(lot_page(result, VERSION), report)
    if all(outcome.refusal is not None for outcome in result.wafers):
        raise typer.Exit(exits.REFUSED)
    if result.decision not in {None, "accepted"}:
        raise typer.Exit(exits.NOT_ACCEPTED)


@contextmanager
def _workers(jobs: int | None, wafers: int) -> Iterator[Executor | None]:
    """Worker processes, or None where one process is as quick."""
    from os import cpu_count

    if jobs is None:
        jobs = min(cpu_count() or 1, wafers) if wafers >= _WORTH_A_POOL else 1
    if jobs == 1:
        yield None
        return
    from concurrent.futures import ProcessPoolExecutor
    from functools import partial
    from signal import SIG_IGN, SIGINT, signal

    # An interrupt is for this process to answer: workers would each print where they were.
    executor = ProcessPoolExecutor(jobs, initializer=partial(signal, SIGINT, SIG_IGN))
    try:
        yield executor
    finally:
        executor.shutdown(cancel_futures=True)
