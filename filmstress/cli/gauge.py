"""``filmstress gauge``: repeatability and reproducibility from a study."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.checks import Json
from filmstress.cli.output import show, show_json
from filmstress.cli.sizes import one_value


def gauge(
    file: Annotated[
        str, typer.Argument(metavar="FILE.csv", help="Readings: wafer, operator, bow [um].")
    ],
    tolerance: Annotated[
        str | None,
        typer.Option(
            "--tolerance",
            metavar="QUANTITY",
            help='Upper less lower limit of what was read: "40 um".',
        ),
    ] = None,
    json: Json = False,
) -> None:
    """How well the gauge repeats, from several readings of several wafers.

    The table names a wafer and a reading in every row, and an operator, loading, day, run or tool
    where these may matter. Every wafer is read equally often, taken off and put on again each time.

    Example: filmstress gauge study.csv --tolerance "40 um"
    """
    from filmstress.errors import RefusedInput
    from filmstress.inputs.study import read_study
    from filmstress.report.gauge import Judged, gauge_data, gauge_text
    from filmstress.stats.variance_components.gauge_study import gauge_study
    from filmstress.version import VERSION

    study = read_study(file)
    wide = None
    if tolerance is not None:
        wide = one_value("--tolerance", tolerance, (study.dimension, 0.0, 1e12, "40 um"))
        if wide <= 0.0:
            raise RefusedInput(f"'{tolerance}' is not above 0", where="--tolerance")
    wafers, between = study.labels()
    found = gauge_study(study.values.ravel(), wafers, between, within=not study.crossed)
    made = Judged(path=file, study=study, found=found, tolerance=wide)
    if json:
        show_json(gauge_data(made, VERSION))
    else:
        show(gauge_text(made))
