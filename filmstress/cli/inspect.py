"""``filmstress inspect``: what was read from scan files, and the curvature of each."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import Json, only_one
from filmstress.cli.output import say, show, show_csv, show_json
from filmstress.cli.reading import (
    Azimuth,
    Columns,
    Decimal,
    HeightUnit,
    Interval,
    PositionUnit,
    Trace,
)


def inspect(
    scans: Annotated[
        list[str],
        typer.Argument(metavar="SCAN...", help="Files of height scans; '-' is standard input."),
    ],
    position_unit: PositionUnit = None,
    height_unit: HeightUnit = None,
    decimal: Decimal = None,
    columns: Columns = None,
    interval: Interval = None,
    trace: Trace = None,
    azimuth: Azimuth = None,
    json: Json = False,
    csv: Annotated[bool, typer.Option("--csv", help="A table, one row a scan.")] = False,
) -> None:
    """Show what is read from scans: units, points, gaps, spikes, curvature, bow.

    A file that holds several scans gives all of them, numbered as --trace takes them; a map of
    heights its lines at 0 and 90 deg, or the one at --azimuth. A file or scan that cannot be used
    is reported and the others go on; the exit code is then 3.
    """
    from dataclasses import asdict

    from filmstress.errors import FilmstressError
    from filmstress.inputs.request import reading_options
    from filmstress.measure.single import inspect_file
    from filmstress.report import inspected
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    options = reading_options(
        position_unit=position_unit,
        height_unit=height_unit,
        decimal=decimal,
        columns=columns,
        interval=interval,
        trace=trace,
        azimuth=azimuth,
    )
    found, refused = [], []
    for path in scans:
        for one in inspect_file(path, options):
            if isinstance(one, FilmstressError):
                refused.append((path, one))
                say(f"filmstress: {one}")
            else:
                found.append(one)
    if json:
        show_json(
            inspected.inspection_data(found, refused, VERSION), {"files": scans, **asdict(options)}
        )
    elif csv:
        show_csv(inspected.TABLE_HEADS, map(inspected.table_row, found))
    elif found:
        show("\n\n".join(map(inspected.scan_text, found)))
    if refused:
        raise typer.Exit(exits.REFUSED)
