"""``filmstress verify``: a recorded lot, recomputed from its files."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import Json
from filmstress.cli.output import show, show_json


def verify(
    record: Annotated[
        str, typer.Argument(metavar="RECORD", help="A record that  lot --record  has written.")
    ],
    files: Annotated[
        str | None,
        typer.Option(
            "--files",
            metavar="DIR",
            help="Where the lot's files are now; by default where the record says.",
        ),
    ] = None,
    json: Json = False,
) -> None:
    """Recompute a recorded lot from its files: the same, or what differs.

    The record's own SHA-256 and the chain of its folder are checked, every file is compared byte
    for byte, and the lot is measured again from the record's copy of the lot file and the scans on
    disk. The exit code is 0 where all is the same, 1 where something differs, 3 where the file is
    no record.
    """
    from filmstress.lots.record.verifying import verify_record
    from filmstress.report.lot import lot_data
    from filmstress.report.verification import verification_data, verification_text
    from filmstress.version import VERSION

    found = verify_record(
        record,
        version=VERSION,
        results_of=lambda result: lot_data(result, VERSION),
        folder=files,
    )
    if json:
        show_json(verification_data(found, VERSION))
    else:
        show(verification_text(found))
    if not found.same:
        raise typer.Exit(exits.NOT_ACCEPTED)
