"""``filmstress compare``: recipes, lots or tools of the history against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli.checks import Json, only_one
from filmstress.cli.history.options import Csv, Place, Since, Until, choice_data, choice_of, opened
from filmstress.cli.output import show, show_csv, show_json
from filmstress.cli.places import Figure, check_places, write_figure
from filmstress.cli.sizes import stress_size

if TYPE_CHECKING:
    from filmstress.records.comparison import Selected
    from filmstress.report.comparison import Compared

EqualSpread = Annotated[
    bool,
    typer.Option(
        "--equal-spread",
        help="Take lots to scatter alike in all selections: for few lots, where that is known.",
    ),
]


def compare(
    selections: Annotated[
        list[str],
        typer.Argument(
            metavar="A B [C ...]",
            help="Recipes, or recipe@lot, lot:NAME, tool:NAME; the first less the second.",
        ),
    ],
    margin: Annotated[
        str | None,
        typer.Option(
            "--margin",
            metavar="QUANTITY",
            help='Test whether they are alike within this: "20 MPa", chosen beforehand.',
        ),
    ] = None,
    equal_spread: EqualSpread = False,
    since: Since = "",
    until: Until = "",
    place: Place = None,
    figure: Figure = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Compare the mean stress of recipes, tools or lots of the history.

    Lots are what is compared, not wafers: lots of one recipe differ too. What all measurements
    share, such as the gauge's scale, cancels as far as it is shared.

    Example: filmstress compare nitride-a nitride-b --margin "20 MPa"
    """
    from filmstress.errors import UsageError
    from filmstress.history.selecting import select
    from filmstress.report import comparison as words
    from filmstress.report.quantities import bare_data
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    check_places(figure)
    if len(selections) < 2:
        raise UsageError(
            "one selection came, two or more are compared", hint="filmstress compare A B"
        )
    size = None if margin is None else stress_size("--margin", margin, above_zero=True)
    within = choice_of(since=since, until=until)
    with opened(place) as history:
        chosen = select(history, selections, within)
    made = compared(tuple(chosen), margin_pa=size, equal_spread=equal_spread)
    if json:
        show_json(
            words.comparison_data(made, VERSION),
            choice_data(within, history.place)
            | {"selections": selections, "margin": bare_data(size, "Pa")}
            | {"equal_spread": equal_spread},
        )
    elif csv:
        show_csv(words.PAIR_HEADS, words.pair_rows(made))
    else:
        show(words.comparison_text(made))
    if figure is not None:
        from filmstress.report.figures.comparison import draw_comparison

        write_figure(draw_comparison(made), figure)


def compared(
    chosen: tuple[Selected, ...], *, margin_pa: float | None, equal_spread: bool
) -> Compared:
    """Everything that is asked of the selections."""
    from filmstress.report.comparison import Compared
    from filmstress.stats.comparison import difference, equivalence, ratio, spread_ratio
    from filmstress.stats.groups import group
    from filmstress.stats.multiple_comparison import all_pairs

    groups = [group(one.name, one.values, one.terms) for one in chosen]
    if len(groups) > 2:
        pairs = all_pairs(groups, equal_spread=equal_spread)
        return Compared(selections=chosen, pairs=pairs, margin=margin_pa)
    first, second = groups
    found = difference(first, second, equal_spread=equal_spread)
    return Compared(
        selections=chosen,
        difference=found,
        equivalence=None if margin_pa is None else equivalence(found, margin=margin_pa),
        ratio=ratio(first, second, equal_spread=equal_spread) if second.mean else None,
        spreads=spread_ratio(first, second) if first.sd > 0.0 and second.sd > 0.0 else None,
        margin=margin_pa,
    )
