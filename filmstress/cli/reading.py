"""The options that state what a scan file leaves open, where a command reads single files."""

from __future__ import annotations

from typing import Annotated

import typer

_PANEL = "Where the files leave it open"

PositionUnit = Annotated[
    str | None,
    typer.Option("--position-unit", metavar="UNIT", help="mm, um.", rich_help_panel=_PANEL),
]
HeightUnit = Annotated[
    str | None,
    typer.Option("--height-unit", metavar="UNIT", help="um, nm.", rich_help_panel=_PANEL),
]
Decimal = Annotated[
    str | None,
    typer.Option("--decimal", metavar=".|,", help="Decimal mark.", rich_help_panel=_PANEL),
]
Columns = Annotated[
    str | None,
    typer.Option(
        "--columns",
        metavar="X,Z",
        help="Position and height by name or number: 1,3.",
        rich_help_panel=_PANEL,
    ),
]
Interval = Annotated[
    str | None,
    typer.Option(
        "--interval",
        metavar="QUANTITY",
        help='Spacing of a file that holds heights only: "0.5 um".',
        rich_help_panel=_PANEL,
    ),
]
Trace = Annotated[
    str | None,
    typer.Option(
        "--trace",
        metavar="WHICH",
        help="Which of several scans in one file, by number or name.",
        rich_help_panel=_PANEL,
    ),
]
Azimuth = Annotated[
    str | None,
    typer.Option(
        "--azimuth",
        metavar="QUANTITY",
        help='Of a map of heights: direction of the line through its middle, "0 deg".',
        rich_help_panel=_PANEL,
    ),
]
