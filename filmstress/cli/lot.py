"""``filmstress lot``: every wafer of a lot file, and the decision."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import SEED, Json, MonteCarlo, Noise, Seed, noise_setting, only_one
from filmstress.cli.history.options import Place
from filmstress.cli.keeping import Keeping
from filmstress.cli.output import show, show_csv, show_json
from filmstress.cli.places import Report, check_places, write_figure, write_report
from filmstress.cli.progress import progress
from filmstress.errors import UsageError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from filmstress.records.lot import LotResult, LotSpec

# Below this many wafers, starting worker processes costs more than it saves.
_WORTH_A_POOL = 8


def lot(
    file: Annotated[
        str | None, typer.Argument(metavar="LOT.toml", help="The lot file.", show_default=False)
    ] = None,
    json: Json = False,
    csv: Annotated[bool, typer.Option("--csv", help="A table, one row a wafer.")] = False,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs", metavar="N", min=1, help="Processes; by default as many as it helps."
        ),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(
            "--cluster",
            metavar="ADDRESS",
            help="Measure on a Dask cluster that is running; its workers read the scans.",
        ),
    ] = None,
    noise: Noise = None,
    monte_carlo: MonteCarlo = False,
    seed: Seed = SEED,
    check: Annotated[
        bool,
        typer.Option(
            "--check", help="Read the lot file and the heads of its scans, and measure nothing."
        ),
    ] = False,
    template: Annotated[
        bool, typer.Option("--template", help="Print an example lot file to start from.")
    ] = False,
    figure: Annotated[
        str | None,
        typer.Option(
            "--figure", metavar="FILE", help="Draw every wafer's stress: .png, .svg or .pdf."
        ),
    ] = None,
    report: Report = None,
    record: Annotated[
        bool,
        typer.Option(
            "--record",
            help="Write a record, from which the lot can be recomputed, and keep the lot in the "
            "history.",
        ),
    ] = False,
    record_folder: Annotated[
        str | None,
        typer.Option(
            "--record-folder",
            metavar="DIR",
            help="Where to write it; by default 'records' beside the lot file.",
        ),
    ] = None,
    history: Place = None,
) -> None:
    """Measure every wafer of a lot and decide on it against its specification.

    The exit code is 0 where it is accepted, or has no specification, 1 where it is rejected or
    undecided, 3 where the lot file, or every wafer, was refused. Without --noise, residuals are
    judged safely where there is a specification.
    """
    if template:
        from filmstress.lots.template import template as example

        if file is not None:
            raise UsageError(
                "it takes no lot file: an example is printed",
                where="--template",
                hint="filmstress lot --template > lot.toml",
            )
        show(example())
        return
    if file is None:
        raise UsageError(
            "the lot file is missing",
            where="LOT.toml",
            hint="name it; 'filmstress lot --template' prints one to start from",
        )
    only_one(json=json, csv=csv)
    if check:
        _check(file, json=json)
        return
    from filmstress.lots.batch import Procedure, measure_lot, usual_noise
    from filmstress.lots.manifest import read_lot
    from filmstress.version import VERSION

    noise = noise_setting(noise)
    if jobs is not None and cluster is not None:
        raise UsageError("--jobs and --cluster exclude each other", hint="leave one of them away")
    check_places(figure, report)
    # Workers elsewhere have another working directory.
    spec = read_lot(file if cluster is None else os.path.abspath(file))  # noqa: PTH100
    procedure = Procedure(noise or usual_noise(spec), monte_carlo, seed)
    keeping = None
    if record or record_folder is not None or history is not None:
        keeping = Keeping(file, record_folder, history)
    with progress("wafers") as tell, _workers(jobs, cluster, spec) as (executor, workers):
        result = measure_lot(
            spec,
            executor=executor,
            workers=workers,
            procedure=procedure,
            points="none" if report is None else "few",
            on_progress=tell,
        )
    if keeping is not None:
        keeping.write(result, procedure)
    if json:
        from filmstress.report.lot import lot_frame, wafers_data

        told = None if keeping is None else keeping.told
        frame = lot_frame(result, VERSION) | {"record": told}
        show_json(frame, wafers=wafers_data(result, VERSION))
    elif csv:
        from filmstress.report.lot import TABLE_HEADS, table_rows

        show_csv(TABLE_HEADS, table_rows(result))
    else:
        from filmstress.report.lot import lot_text

        show(lot_text(result))
    try:
        _write_for_readers(
            result, figure, report, record=None if keeping is None else keeping.written
        )
    finally:
        # Where the record is must be said whatever became of the report.
        if keeping is not None:
            keeping.say()
    if all(outcome.refusal is not None for outcome in result.wafers):
        raise typer.Exit(exits.REFUSED)
    if result.decision not in {None, "accepted"}:
        raise typer.Exit(exits.NOT_ACCEPTED)


def _write_for_readers(
    result: LotResult, figure: str | None, report: str | None, *, record: tuple[str, str] | None
) -> None:
    if figure is not None:
        from filmstress.report.figures.lot import draw_lot

        write_figure(draw_lot(result), figure)
    if report is not None:
        from filmstress.report.page.writing import lot_page
        from filmstress.version import VERSION

        write_report(lot_page(result, VERSION, record=record), report)


def _check(file: str, *, json: bool) -> None:
    """Read a lot file and what it names; faults are raised, or told in JSON."""
    from filmstress.errors import Faults, FilmstressError
    from filmstress.lots.manifest import read_lot

    faults: tuple[FilmstressError, ...] = ()
    wafers = scans = 0
    try:
        spec = read_lot(file, files=True)
        wafers = len(spec.wafers)
        scans = sum(
            s.scan.path is not None
            for wafer in spec.wafers
            for line in wafer.lines
            for s in (*line.states, *line.weight)
        )
    except FilmstressError as error:
        if not json:
            raise
        faults = error.faults if isinstance(error, Faults) else (error,)
    if json:
        from filmstress.report.lot import check_data
        from filmstress.version import VERSION

        show_json(check_data(file, wafers, scans, faults, VERSION), {"file": file})
        if faults:
            raise typer.Exit(exits.code_of(faults[0]))
        return
    show(f"Lot {spec.lot}: {wafers} wafers, {scans} scans; nothing to mend. Nothing was measured.")


@contextmanager
def _workers(
    jobs: int | None, address: str | None, spec: LotSpec
) -> Iterator[tuple[Executor | None, int]]:
    """Where to measure, and how many wafers at once; None where one process is as quick."""
    if address is not None:
        from filmstress.lots.cluster import cluster

        with cluster(address, spec) as workers:
            yield workers
        return
    from filmstress.lots.workers import process_pool, processors

    if jobs is None:
        jobs = processors() if len(spec.wafers) >= _WORTH_A_POOL else 1
    jobs = min(jobs, len(spec.wafers))
    if jobs == 1:
        yield None, 1
        return
    with process_pool(jobs) as pool:
        yield pool, jobs
