"""``filmstress stack``: the states of one wafer under several films."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import Json, Noise, noise_setting, only_one
from filmstress.cli.history.options import Place, opened
from filmstress.cli.output import show, show_csv, show_json
from filmstress.cli.places import check_places, write_figure

if TYPE_CHECKING:
    from filmstress.records.stack import RecipeAsked, Recorded


def stack(
    file: Annotated[str, typer.Argument(metavar="STACK.toml", help="The stack file.")],
    json: Json = False,
    csv: Annotated[bool, typer.Option("--csv", help="A table, one row a state.")] = False,
    noise: Noise = None,
    place: Place = None,
    figure: Annotated[
        str | None,
        typer.Option(
            "--figure", metavar="FILE", help="Draw the bow of every state: .png, .svg or .pdf."
        ),
    ] = None,
) -> None:
    """Stress of each layer of a stack, the bow after every step, and what balances it.

    A state is the wafer as it came, with one layer more on either face, with one stripped, or
    changed (annealed). Where two states that follow each other are scanned, the step between them
    is measured; where they are not, the layer states its stress, or a recipe whose recorded lots
    tell it, and the bow is predicted. The exit code is 3 where a step cannot be told, or no layer
    of the kind named balances the bow.
    """
    from functools import partial
    from pathlib import Path

    from filmstress.inputs.text_file import read_text_file
    from filmstress.report.stack import TABLE_HEADS, stack_data, stack_text, table_rows
    from filmstress.stacks.measuring import measure_stack
    from filmstress.stacks.reading import stack_of_text
    from filmstress.version import VERSION

    only_one(json=json, csv=csv)
    check_places(figure)
    setting = noise_setting(noise) or "balanced"
    read = read_text_file(Path(file), what="stack file")
    spec = stack_of_text(
        read.text, path=read.path, sha256=read.sha256, history=partial(_next_wafer, place)
    )
    result = measure_stack(spec, setting=setting)
    if json:
        show_json(stack_data(result, VERSION))
    elif csv:
        show_csv(TABLE_HEADS, table_rows(result))
    else:
        show(stack_text(result))
    if figure is not None:
        from filmstress.report.figures.stack import draw_stack

        write_figure(draw_stack(result), figure)
    if result.refused:
        raise typer.Exit(exits.REFUSED)


def _next_wafer(place: str | None, asked: RecipeAsked) -> Recorded:
    """What the history tells of a recipe; it is opened only where a layer names one."""
    from filmstress.history.predicting import next_wafer

    with opened(place) as history:
        return next_wafer(history, asked)
