"""``filmstress gauge``: repeatability and reproducibility from repeated readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli.checks import Json, only_one
from filmstress.cli.history.options import (
    Csv,
    Lot,
    Place,
    Recipe,
    Since,
    Tool,
    Until,
    choice_data,
    choice_of,
    opened,
)
from filmstress.cli.output import show, show_csv, show_json
from filmstress.cli.places import Figure, check_places, write_figure
from filmstress.cli.progress import progress
from filmstress.cli.sizes import one_value
from filmstress.errors import UsageError

if TYPE_CHECKING:
    from filmstress.inputs.study import Study
    from filmstress.records.study import Readings

_STATES = ("pre", "post")


def gauge(
    file: Annotated[
        str | None,
        typer.Argument(
            metavar="[FILE]",
            help="Table of readings (wafer, operator, bow [um]) or of scan files (wafer, operator, "
            "scan), or a lot file; without one, the history is asked.",
            show_default=False,
        ),
    ] = None,
    between: Annotated[
        str | None,
        typer.Option(
            "--between",
            metavar="NAME",
            help="What to study beside repeats: operator, instrument, date, loading, ...; by "
            "default the first that can be told.",
        ),
    ] = None,
    state: Annotated[
        str | None,
        typer.Option(
            "--state",
            metavar="|".join(_STATES),
            help="Which scans of a lot file: before deposition, or after (the default).",
        ),
    ] = None,
    tolerance: Annotated[
        str | None,
        typer.Option(
            "--tolerance",
            metavar="QUANTITY",
            help='Upper less lower limit of what was read: "40 um".',
        ),
    ] = None,
    lower: Annotated[
        str | None,
        typer.Option("--lower", metavar="QUANTITY", help="In its place, with --upper: the limits."),
    ] = None,
    upper: Annotated[str | None, typer.Option("--upper", metavar="QUANTITY")] = None,
    recipe: Recipe = "",
    lot: Lot = "",
    tool: Tool = "",
    since: Since = "",
    until: Until = "",
    place: Place = None,
    figure: Figure = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """How well the gauge repeats, from several readings of several wafers.

    A table names a wafer and a reading, or a scan, in every row; a lot file the same azimuth of a
    wafer several times; the history wafers that were recorded more than once. Take the wafer off
    and put it on again each time. Numbers of readings may differ.

    Example: filmstress gauge study.csv --tolerance "40 um"
    """
    from filmstress.inputs.study import study_of
    from filmstress.report.gauge import Judged, gauge_text
    from filmstress.report.gauge_data import component_heads, component_rows, gauge_data
    from filmstress.stats.variance_components.gauge_study import gauge_study
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    check_places(figure)
    of_history = {"--recipe": recipe, "--lot": lot, "--tool": tool, "--since": since}
    of_history |= {"--until": until, "--history": place or ""}
    choice: dict[str, object] = {}
    asked = [name for name, text in of_history.items() if text]
    if file is None:
        if not asked:
            raise UsageError(
                "neither a file nor a part of the history is named",
                hint="filmstress gauge study.csv, or lot.toml, or --recipe NAME",
            )
        if state is not None:
            raise UsageError("it is about a lot file", where="--state", hint="leave it away")
        within = choice_of(recipe=recipe, lot=lot, tool=tool, since=since, until=until)
        from filmstress.history.repeats import repeated_stresses

        with opened(place) as history:
            readings = repeated_stresses(history, within)
            choice = choice_data(within, history.place)
    else:
        if asked:
            raise UsageError(
                f"a file came, and {asked[0]} asks the history", hint="leave one of them away"
            )
        readings = _of_file(file, state)
    study = study_of(readings, between)
    found = gauge_study(
        study.values,
        study.wafers,
        study.others or None,
        within=not study.crossed and bool(study.others),
    )
    wide, stated_by = _width(study, tolerance, lower, upper)
    made = Judged(study=study, found=found, tolerance=wide, tolerance_from=stated_by)
    if json:
        show_json(
            gauge_data(made, VERSION),
            {
                "file": file,
                "files": [{"path": path, "sha256": digest} for path, digest in readings.files],
                "between": between,
                "state": state,
                **choice,
            },
        )
    elif csv:
        show_csv(component_heads(made), component_rows(made))
    else:
        show(gauge_text(made))
    if figure is not None:
        from filmstress.report.figures.gauge import draw_gauge

        write_figure(draw_gauge(made), figure)


def _of_file(file: str, state: str | None) -> Readings:
    """Readings of a table, or of the scans that a table or a lot file names."""
    from filmstress.inputs.study_table import read_study_table
    from filmstress.measure.bows import read_bows
    from filmstress.records.study import Readings

    remarks: tuple[str, ...] = ()
    if file.lower().endswith(".toml"):
        from filmstress.lots.manifest import read_lot
        from filmstress.lots.repeats import repeated_scans

        if state is not None and state not in _STATES:
            raise UsageError(f"'{state}' is no state", where="--state", hint="write pre or post")
        told = {"pre": "before", "post": "after"}[state or "post"]
        scans = repeated_scans(read_lot(file), state or "post")
        remarks = (f"Read were the scans {told} deposition, one by one.",)
    else:
        if state is not None:
            raise UsageError("it is about a lot file", where="--state", hint="leave it away")
        read = read_study_table(file)
        if isinstance(read, Readings):
            return read
        scans = read
    with progress("scans") as tell:
        return read_bows(scans, source=file, remarks=remarks, on_progress=tell)


def _width(
    study: Study, tolerance: str | None, lower: str | None, upper: str | None
) -> tuple[float | None, str]:
    """Width of the tolerance, and who stated it where it was not the user."""
    from filmstress.errors import RefusedInput
    from filmstress.units.dimensions import Dimension

    dimensions: dict[str, Dimension] = {"m": "length", "Pa": "stress", "": "number"}
    dimension = dimensions[study.unit]
    example = {"m": "40 um", "Pa": "100 MPa", "": "40"}[study.unit]
    ends = (lower, upper)
    if tolerance is not None and ends != (None, None):
        raise UsageError("--tolerance and limits exclude each other", hint="leave one of them away")
    if (lower is None) != (upper is None):
        raise UsageError(
            "one limit came: a width wants both", hint='--lower "-20 um" --upper "20 um"'
        )
    if tolerance is not None:
        wide = one_value("--tolerance", tolerance, (dimension, 0.0, 1e12, example))
        if wide <= 0.0:
            raise RefusedInput(f"'{tolerance}' is not above 0", where="--tolerance")
        return wide, ""
    if lower is not None and upper is not None:
        low, high = (
            one_value(flag, text, (dimension, -1e12, 1e12, example))
            for flag, text in (("--lower", lower), ("--upper", upper))
        )
        if high <= low:
            raise RefusedInput(f"'{upper}' is not above '{lower}'", where="--upper")
        return high - low, ""
    if study.readings.limits is not None:
        low, high = study.readings.limits
        return high - low, "those of the latest lot"
    return None, ""
