"""``filmstress chart``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli.checks import Json, only_one
from filmstress.cli.history.options import (
    Csv,
    Place,
    Since,
    Tool,
    Until,
    choice_data,
    choice_of,
    opened,
)
from filmstress.cli.output import say, show, show_csv, show_json
from filmstress.cli.places import Figure, check_places, write_figure

if TYPE_CHECKING:
    from filmstress.charting.charts import ChartKind
    from filmstress.charting.tuning import Tuning

# As in filmstress.charting.charts, which loads numpy.
_KINDS = ("individuals", "three-way", "xbar-r", "xbar-s", "ewma", "cusum")


def _number(flag: str, text: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(
        flag, metavar="NUMBER", help=text, rich_help_panel="Small lasting shifts"
    )
    return option


def chart(
    recipe: Annotated[str, typer.Argument(metavar="RECIPE", help="As its lots name it.")],
    kind: Annotated[
        str | None,
        typer.Option(
            "--kind",
            metavar="|".join(_KINDS),
            help="Of chart; three-way where every lot holds several wafers, else individuals.",
        ),
    ] = None,
    baseline: Annotated[
        str,
        typer.Option(
            "--baseline",
            metavar="N|DATE..DATE",
            help="Lots the limits are made from: the first N, or of a time; by default all.",
        ),
    ] = "",
    rules: Annotated[
        str,
        typer.Option(
            "--rules",
            metavar="NAMES",
            help="What signals beside a point beyond a limit: western-electric, nelson or iso, or "
            "some of their rules: nelson-2,nelson-3. Every rule adds false alarms.",
        ),
    ] = "",
    ewma_weight: Annotated[
        float | None,
        _number(
            "--ewma-weight", "Of the newest lot in the moving average, 0.01 to 1; by default 0.2."
        ),
    ] = None,
    ewma_limit: Annotated[
        float | None,
        _number(
            "--ewma-limit", "Its limits, in standard deviations of the average; by default 2.86."
        ),
    ] = None,
    cusum_reference: Annotated[
        float | None,
        _number(
            "--cusum-reference", "k: half the shift to be found soon, in sigma; by default 0.5."
        ),
    ] = None,
    cusum_decision: Annotated[
        float | None,
        _number("--cusum-decision", "h: a sum beyond this signals, in sigma; by default 4.77."),
    ] = None,
    tool: Tool = "",
    since: Since = "",
    until: Until = "",
    last: Annotated[
        int | None,
        typer.Option(
            "--last", metavar="N", min=1, help="Only the latest N lots.", rich_help_panel="Which"
        ),
    ] = None,
    place: Place = None,
    figure: Figure = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Control charts of a recorded recipe: what changed and when, and its capability.

    A signal is no decision on a lot: the exit code is 0 with signals and without.

    Example: filmstress chart nitride-low-stress --baseline 25 --rules western-electric
    """
    from dataclasses import replace

    from filmstress.charting.charts import chart_recipe
    from filmstress.charting.lots import Series, series_of
    from filmstress.history.counting import counted_wafers
    from filmstress.history.selecting import check_recipe
    from filmstress.report import chart as words
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    check_places(figure)
    choice = choice_of(recipe=recipe, tool=tool, since=since, until=until)
    chosen_kind = _kind(kind)
    tuning = _tuning(
        chosen_kind,
        ewma={"weight": ewma_weight, "limit": ewma_limit},
        cusum={"reference": cusum_reference, "decision": cusum_decision},
    )
    names = [name.strip() for name in rules.split(",") if name.strip()]
    with opened(place) as history:
        check_recipe(history, recipe)
        found, again = counted_wafers(history, choice)
        series = series_of(recipe, found, last=last, again=again)
    asked = choice_data(replace(choice, last=last), history.place) | {
        "kind": kind,
        "baseline": baseline,
        "rules": names,
    }
    made = chart_recipe(series, kind=chosen_kind, baseline=baseline, rules=names, tuning=tuning)
    if isinstance(made, Series):
        if figure is not None:
            say("no figure written: there is no chart yet")
        if json:
            show_json(words.too_few_data(made, VERSION), asked)
        elif csv:
            show_csv(words.POINT_HEADS, [])
            say(words.too_few_text(made))
        else:
            show(words.too_few_text(made))
        return
    if json:
        show_json(words.chart_data(made, VERSION), asked)
    elif csv:
        show_csv(*words.point_rows(made))
    else:
        show(words.chart_text(made))
    if figure is not None:
        from filmstress.report.figures.chart import draw_chart

        write_figure(draw_chart(made), figure)


def _kind(stated: str | None) -> ChartKind | None:
    """The kind of chart that --kind names.

    Raises
    ------
    UsageError
        There is none of that name.
    """
    from filmstress.charting.charts import ChartKind
    from filmstress.errors import UsageError

    if stated is None:
        return None
    if stated not in _KINDS:
        raise UsageError(
            f"'{stated}' is no kind of chart", where="--kind", hint="one of " + ", ".join(_KINDS)
        )
    return ChartKind(stated)


def _tuning(kind: ChartKind | None, **stated: dict[str, float | None]) -> Tuning:
    """The settings stated of the moving average or the sums; the others as they are.

    Raises
    ------
    UsageError
        One is of another kind of chart than the one asked for, or is out of its range.
    """
    from filmstress.charting.tuning import Tuning
    from filmstress.errors import UsageError

    told: dict[str, float] = {}
    for of_kind, settings in stated.items():
        for name, value in settings.items():
            if value is None:
                continue
            if kind is None or kind.value != of_kind:
                raise UsageError(
                    f"it is of another chart than the one asked for ({kind or 'no --kind'})",
                    where=f"--{of_kind}-{name}",
                    hint=f"ask for --kind {of_kind}",
                )
            told[name] = value
    return Tuning(**told)
