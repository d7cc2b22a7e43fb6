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
    heights its curvatures as a whole and its lines at 0 and 90 deg, or the line at --azimuth. What
    cannot be used is reported and the rest goes on; the exit code is then 3.
    """
    from dataclasses import asdict

    from filmstress.errors import FilmstressError
    from filmstress.inputs.request import reading_options
    from filmstress.measure.single import InspectedScan, inspect_file
    from filmstress.report import inspected
    from filmstress.report.inspected_map import map_text
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
    found, refused, maps, texts = [], [], [], []
    for path in scans:
        for one in inspect_file(path, options):
            if isinstance(one, FilmstressError):
                refused.append((path, one))
                say(f"filmstress: {one}")
            elif isinstance(one, InspectedScan):
                found.append(one)
                texts.append(inspected.scan_text(one))
            else:
                maps.append(one)
                texts.append(map_text(one))
    if json:
        show_json(
            inspected.inspection_data(found, maps, refused, VERSION),
            {"files": scans, **asdict(options)},
        )
    elif csv:
        show_csv(inspected.TABLE_HEADS, map(inspected.table_row, found))
    elif texts:
        show("\n\n".join(texts))
    if refused:
        raise typer.Exit(exits.REFUSED)
