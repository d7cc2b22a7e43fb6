"""``filmstress thickness``: film thickness from scans over steps."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.checks import Json, Noise, noise_setting, only_one
from filmstress.cli.output import show, show_csv, show_json
from filmstress.cli.places import Figure, check_places, write_figure
from filmstress.cli.reading import (
    Azimuth,
    Columns,
    Decimal,
    HeightUnit,
    Interval,
    PositionUnit,
    Trace,
)
from filmstress.cli.sizes import one_value

_REFERENCES = ("low", "high", "left", "right")


def thickness(
    scans: Annotated[
        list[str],
        typer.Argument(
            metavar="SCAN...", help="Scans over steps of the film; '-' is standard input."
        ),
    ],
    reference: Annotated[
        str,
        typer.Option(
            "--reference",
            metavar="|".join(_REFERENCES),
            help="Which side is the substrate: the lower level; the higher one, where the files' "
            "numbers grow into the surface; or that left or right of the first edge.",
        ),
    ] = "low",
    edge: Annotated[
        list[str] | None,
        typer.Option(
            "--edge",
            metavar="QUANTITY",
            help="Where an edge lies, in the files' positions; once for each edge. Not given, "
            'edges are looked for: "1.2 mm".',
        ),
    ] = None,
    straight: Annotated[
        bool,
        typer.Option(
            "--straight",
            help="Level by a straight line, as ISO 5436-1 does; a bow of the surface is then taken "
            "for height, and the budget says how much.",
        ),
    ] = False,
    height_scale_uncertainty: Annotated[
        str | None,
        typer.Option(
            "--height-scale-uncertainty",
            metavar="QUANTITY",
            help='Relative standard uncertainty of the height scale: "0.5 %".',
        ),
    ] = None,
    position_unit: PositionUnit = None,
    height_unit: HeightUnit = None,
    decimal: Decimal = None,
    columns: Columns = None,
    interval: Interval = None,
    trace: Trace = None,
    azimuth: Azimuth = None,
    noise: Noise = None,
    json: Json = False,
    csv: Annotated[bool, typer.Option("--csv", help="The steps as a table, SI units.")] = False,
    figure: Figure = None,
) -> None:
    """Thickness of a film from height scans over its steps (ISO 5436-1).

    Grooves down to the substrate, stripes of film, or one edge where the film ends; every step of
    every scan is used. Scans may be as short as 20 um.

    The result goes into a measurement as it is: filmstress thickness SCAN... --json > 01.json, then
    --film-thickness "from 01.json", or film.thickness = "from 01.json" in a lot file.

    Example: filmstress thickness step-01.csv step-02.csv
    """
    from filmstress.errors import UsageError
    from filmstress.inputs.request import height_scale, reading_options
    from filmstress.measure.thickness import measure_thickness
    from filmstress.records.step import Reference
    from filmstress.report import thickness as report
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    setting = noise_setting(noise) or "balanced"
    if reference not in _REFERENCES:
        raise UsageError(
            f"'{reference}' is no side of a step",
            where="--reference",
            hint=f"write one of {', '.join(_REFERENCES)}",
        )
    check_places(figure)
    options = reading_options(
        position_unit=position_unit,
        height_unit=height_unit,
        decimal=decimal,
        columns=columns,
        interval=interval,
        trace=trace,
        azimuth=azimuth,
    )
    found = measure_thickness(
        scans,
        height_scale=height_scale(height_scale_uncertainty),
        options=options,
        reference=Reference(reference),
        edges_m=[one_value("--edge", text, ("length", -1.0, 1.0, "1.2 mm")) for text in edge or ()],
        straight=straight,
        setting=setting,
    )
    if json:
        show_json(report.thickness_data(found, VERSION))
    elif csv:
        show_csv(report.TABLE_HEADS, report.table_rows(found))
    else:
        show(report.thickness_text(found))
    if figure is not None:
        from filmstress.report.figures.thickness import draw_thickness

        write_figure(draw_thickness(found), figure)
