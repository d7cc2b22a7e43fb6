"""``filmstress substrates``: the table, and the modulus of any cut."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.output import show, show_csv, show_json


def substrates(
    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME(hkl)]", help="A cut such as Si(111); nothing: the table."),
    ] = None,
    azimuth_reference: Annotated[
        str | None,
        typer.Option("--azimuth-reference", metavar="[uvw]", help="Direction of the 0 deg axis."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object, SI units.")] = False,
    csv: Annotated[bool, typer.Option("--csv", help="A table.")] = False,
) -> None:
    """List the substrate table with sources, or show one cut: moduli, stiffness, constants."""
    from filmstress.measure.cut import cut_moduli
    from filmstress.report.catalogue import (
        TABLE_HEADS,
        cut_data,
        cut_text,
        table_data,
        table_rows,
        table_text,
    )
    from filmstress.substrates.table import CURRENT_EDITION, rows
    from filmstress.version import VERSION

    if name is not None:
        moduli = cut_moduli(name, azimuth_reference)
        if json:
            show_json(cut_data(moduli, VERSION))
        else:
            show(cut_text(moduli))
        return
    constants = rows()
    if json:
        show_json(table_data(constants, CURRENT_EDITION, VERSION))
    elif csv:
        show_csv(TABLE_HEADS, table_rows(constants))
    else:
        show(table_text(constants, CURRENT_EDITION))
