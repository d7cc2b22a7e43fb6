"""``filmstress export``: a scan in an open format."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from filmstress.cli.checks import Json
from filmstress.cli.output import say, show, show_json
from filmstress.cli.reading import (
    Azimuth,
    Columns,
    Decimal,
    HeightUnit,
    Interval,
    PositionUnit,
    Trace,
)
from filmstress.errors import UsageError

_FORMATS = ("x3p", "csv")
_WHAT = "the scan"


def export(
    scan: Annotated[
        str, typer.Argument(metavar="SCAN", help="File of a height scan; '-' is standard input.")
    ],
    to: Annotated[
        str,
        typer.Option(
            "--to",
            metavar="x3p|csv",
            help="X3P (ISO 25178-72), or a table of text in metres.",
        ),
    ],
    out: Annotated[
        str | None,
        typer.Option(
            "--out",
            metavar="FILE",
            help="Where to write; left out, the scan's name with the new ending, in this folder.",
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write over a file that is there already.")
    ] = False,
    position_unit: PositionUnit = None,
    height_unit: HeightUnit = None,
    decimal: Decimal = None,
    columns: Columns = None,
    interval: Interval = None,
    trace: Trace = None,
    azimuth: Azimuth = None,
    json: Json = False,
) -> None:
    """Write a scan as X3P or CSV; reading it again gives the very same positions and heights.

    Rows that did not become points are told, and not written.
    Example: filmstress export scan.csv --to x3p
    """
    from filmstress.inputs.request import reading_options
    from filmstress.report.files import check_not_there, writable, write_whole
    from filmstress.report.fit_data import source_data
    from filmstress.report.quantities import headed
    from filmstress.scans.reading.scan_file import read_scan
    from filmstress.scans.writing import csv_bytes, x3p_bytes
    from filmstress.version import VERSION

    if to not in _FORMATS:
        raise UsageError(
            f"'{to}' is no format that scans are written in", where="--to", hint="write x3p or csv"
        )
    path = _place(scan, to) if out is None else Path(out)
    _check_own_file(scan, path)
    writable(path, what=_WHAT)
    if not force:
        check_not_there(path, what=_WHAT, hint="name another by --out, or replace it with --force")
    options = reading_options(
        position_unit=position_unit,
        height_unit=height_unit,
        decimal=decimal,
        columns=columns,
        interval=interval,
        trace=trace,
        azimuth=azimuth,
    )
    read = read_scan(scan, options)
    data = (x3p_bytes if to == "x3p" else csv_bytes)(read)
    write_whole(path, data, what=_WHAT, replace=force)
    if json:
        show_json(
            {
                **headed("export", VERSION),
                "inputs": {"scan": source_data(read.source)},
                "file": str(path),
                "points": read.x.size,
                "warnings": [],
            }
        )
        return
    say(f"{read.x.size} points of {read.source.rows} rows written")
    for left in read.source.left_out:
        say(left.words)
    for note in read.source.notes:
        say(f"note: {note}")
    show(str(path))


def _place(scan: str, to: str) -> Path:
    name = "" if scan == "-" else Path(scan).name.removesuffix(".gz")
    return Path(name or "scan").with_suffix(f".{to}")


def _check_own_file(scan: str, path: Path) -> None:
    """A scan is not replaced by its own copy, however much it is asked for: it may say more."""
    try:
        own = path.samefile(scan)
    except (OSError, ValueError):  # one of them is not there
        return
    if own:
        raise UsageError(
            "is the scan itself; its copy must have another name",
            where=str(path),
            hint="name it: --out copy.csv",
        )
