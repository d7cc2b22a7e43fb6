"""``filmstress substrates``: the table, and the modulus of any cut."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.checks import Json, only_one
from filmstress.cli.output import show, show_csv, show_json


def substrates(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="NAME(hkl)", help='A cut such as "Si(111)"; without it the whole table.'
        ),
    ] = None,
    azimuth_reference: Annotated[
        str | None,
        typer.Option(
            "--azimuth-reference",
            metavar="[uvw]",
            help='Crystal direction of the 0 deg axis: "[110]".',
        ),
    ] = None,
    json: Json = False,
    csv: Annotated[
        bool, typer.Option("--csv", help="A table: the constants, or a cut's modulus by azimuth.")
    ] = False,
) -> None:
    """List the substrate table with sources, or show one cut: moduli, stiffness, constants."""
    from filmstress.errors import UsageError
    from filmstress.measure.cut import cut_moduli
    from filmstress.report import catalogue
    from filmstress.substrates.table import CURRENT_EDITION, rows
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    if name is not None:
        moduli = cut_moduli(name, azimuth_reference)
        if json:
            show_json(
                catalogue.cut_data(moduli, VERSION),
                {"name": name, "azimuth_reference": azimuth_reference},
            )
        elif csv:
            show_csv(catalogue.CUT_HEADS, catalogue.cut_rows(moduli))
        else:
            show(catalogue.cut_text(moduli))
        return
    if azimuth_reference is not None:
        raise UsageError(
            "belongs to a cut, and none is named",
            where="--azimuth-reference",
            hint='name one: filmstress substrates "Si(110)" --azimuth-reference "[1-10]"',
        )
    constants = rows()
    if json:
        show_json(catalogue.table_data(constants, CURRENT_EDITION, VERSION), {})
    elif csv:
        show_csv(catalogue.TABLE_HEADS, catalogue.table_rows(constants))
    else:
        show(catalogue.table_text(constants, CURRENT_EDITION))
