"""The options that state what a scan file leaves open, where a command reads single files."""

from __future__ import annotations

from typing import Annotated

import typer

PositionUnit = Annotated[
    str | None,
    typer.Option("--position-unit", metavar="UNIT", help="Where a file is silent: mm, um."),
]
HeightUnit = Annotated[
    str | None,
    typer.Option("--height-unit", metavar="UNIT", help="Where a file is silent: um, nm."),
]
Decimal = Annotated[
    str | None,
    typer.Option("--decimal", metavar=".|,", help="Decimal mark where a file leaves it open."),
]
Columns = Annotated[
    str | None,
    typer.Option("--columns", metavar="X,Z", help="Position and height by name or number: 1,3."),
]
Interval = Annotated[
    str | None,
    typer.Option(
        "--interval",
        metavar="QUANTITY",
        help='Spacing of a file that holds heights only: "0.5 um".',
    ),
]
Trace = Annotated[
    str | None,
    typer.Option(
        "--trace",
        metavar="WHICH",
        help="Which of several scans in one file, by number or name.",
    ),
]
Azimuth = Annotated[
    str | None,
    typer.Option(
        "--azimuth",
        metavar="QUANTITY",
        help='Of a map of heights: direction of the line through its middle, "0 deg".',
    ),
]
