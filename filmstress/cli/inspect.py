"""``filmstress inspect``: what was read from scan files, and the curvature of each."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.output import say, show, show_csv, show_json


def inspect(
    scans: Annotated[list[str], typer.Argument(metavar="SCAN...", help="Files of height scans.")],
    position_unit: Annotated[
        str | None, typer.Option("--position-unit", metavar="UNIT", help="Where a file is silent.")
    ] = None,
    height_unit: Annotated[
        str | None, typer.Option("--height-unit", metavar="UNIT", help="Where a file is silent.")
    ] = None,
    decimal: Annotated[
        str | None, typer.Option("--decimal", metavar=".|,", help="Decimal mark.")
    ] = None,
    columns: Annotated[
        str | None,
        typer.Option("--columns", metavar="X,Z", help="Columns by name or number, such as 1,3."),
    ] = None,
    interval: Annotated[
        str | None,
        typer.Option(
            "--interval", metavar="QUANTITY", help="Spacing, where only heights are given."
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object, SI units.")] = False,
    csv: Annotated[bool, typer.Option("--csv", help="A table.")] = False,
) -> None:
    """Show what is read from scans: units, points, gaps, spikes, curvature, bow.

    A file that cannot be read is reported and the others go on; the exit code is then 3.
    """
    from filmstress.errors import FilmstressError
    from filmstress.inputs.request import reading_options
    from filmstress.measure.single import inspect_scan
    from filmstress.report.data import headed, number, scan_data
    from filmstress.report.inspected import scan_text
    from filmstress.version import VERSION

    options = reading_options(
        position_unit=position_unit,
        height_unit=height_unit,
        decimal=decimal,
        columns=columns,
        interval=interval,
    )
    found = []
    failed = False
    for path in scans:
        try:
            found.append(inspect_scan(path, options))
        except FilmstressError as error:
            failed = True
            say(f"filmstress: {error}")
    data = [scan_data(one.scan.source, one.scan.length, one.curvature) for one in found]
    if json:
        show_json({**headed("inspect", VERSION), "scans": data})
    elif csv:
        heads = (
            "file",
            "points",
            "points_used",
            "length [m]",
            "curvature [1/m]",
            "u [1/m]",
            "bow [m]",
        )
        show_csv(
            heads,
            [
                (
                    one["file"],
                    one["points"],
                    one["points_used"],
                    one["length"],
                    one["curvature"]["value"],
                    number(one["curvature"]["standard_uncertainty"]),
                    one["bow"],
                )
                for one in data
            ],
        )
    else:
        show("\n\n".join(scan_text(one.scan, one.curvature) for one in found))
    if failed:
        raise typer.Exit(exits.REFUSED)
