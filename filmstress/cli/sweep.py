"""``filmstress sweep``: stress against a process parameter, and the setting for a wanted stress."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.checks import Json
from filmstress.cli.history.options import Place, Since, Until, choice_data, choice_of, opened
from filmstress.cli.output import show, show_json
from filmstress.cli.places import Figure, check_places, write_figure
from filmstress.cli.sizes import stress_size


def sweep(
    selection: Annotated[
        str, typer.Argument(metavar="RECIPE", help="A recipe, or tool:NAME, of the history.")
    ],
    parameter: Annotated[
        str,
        typer.Option(
            "--parameter", metavar="NAME", help="A recorded process parameter, such as pressure."
        ),
    ],
    target: Annotated[
        str | None,
        typer.Option("--target", metavar="QUANTITY", help='A wanted stress: "-200 MPa".'),
    ] = None,
    setting_unit: Annotated[
        str,
        typer.Option(
            "--setting-unit",
            metavar="UNIT",
            help="Show settings in this unit, such as mTorr; by default as most lots state them.",
        ),
    ] = "",
    since: Since = "",
    until: Until = "",
    place: Place = None,
    figure: Figure = None,
    json: Json = False,
) -> None:
    """Stress against a process parameter: the slope, where it is zero, and what to set.

    One point a lot; the line carries the lots' scatter and what all measurements share.

    Example: filmstress sweep nitride --parameter pressure --target "-200 MPa"
    """
    from filmstress.history.sweeping import sweep as ask
    from filmstress.report.quantities import bare_data
    from filmstress.report.sweep import Swept, sweep_data, sweep_text
    from filmstress.stats.crossing import crossing
    from filmstress.stats.line_checks import check_line
    from filmstress.stats.straight_line import fit_line
    from filmstress.version import VERSION

    check_places(figure)
    wanted = None if target is None else stress_size("--target", target, example="-200 MPa")
    within = choice_of(since=since, until=until)
    with opened(place) as history:
        found = ask(history, selection, parameter, within, shown_in=setting_unit)
    line = fit_line(found.settings, found.stress.values, y_terms=found.stress.terms)
    made = Swept(
        sweep=found,
        line=line,
        zero=crossing(line),
        target=wanted,
        setting=None if wanted is None else crossing(line, wanted),
        checks=check_line(line),
    )
    if json:
        show_json(
            sweep_data(made, VERSION),
            choice_data(within, history.place)
            | {"selection": selection, "parameter": parameter}
            | {"target": bare_data(wanted, "Pa")},
        )
    else:
        show(sweep_text(made))
    if figure is not None:
        from filmstress.report.figures.sweep import draw_sweep

        write_figure(draw_sweep(made), figure)
