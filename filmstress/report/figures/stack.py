"""A stack as a picture: the wafer's bow in every state, with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from filmstress.records.quantity import Estimate
from filmstress.records.stack import Known, StackResult, StateFound
from filmstress.report.figures.style import (
    BODY,
    HEADLINE,
    INK,
    MIST,
    PAGE,
    PAPER,
    SAND,
    SLATE,
    SMALL,
    figure_style,
)
from filmstress.report.stack import headline, say_or_dash, state_name, step_words
from filmstress.report.words import display_unit, printable, say_value

# Shares of the figure; rows keep their distance while there is room.
_LEFT, _RIGHT, _TOP = 0.27, 0.8, 0.8
_PITCH, _TALLEST = 0.09, 0.64

_LOOKS: dict[Known, dict[str, Any]] = {
    Known.MEASURED: {"marker": "o", "markerfacecolor": SLATE},
    Known.PREDICTED: {"marker": "o", "markerfacecolor": PAPER},
    Known.STATED: {"marker": "s", "markerfacecolor": PAPER},
}


@dataclass(frozen=True, slots=True)
class _Row:
    """A state, or what would be with the balancing layer."""

    name: str
    step: str
    bow: Estimate | None
    known: Known
    beside: Estimate | None = None


def draw_stack(result: StackResult) -> Figure:
    """Draw a stack: one row a state from the top, its bow against flat and the target.

    Parameters
    ----------
    result : StackResult

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    rows = [_row(found) for found in result.states]
    balance = result.balance
    if balance is not None and balance.thickness is not None:
        told = f"{say_value(balance.thickness.value, 'm', 3)}, if just so thick"
        rows.append(_Row("balancing layer", told, balance.bow, Known.PREDICTED))
    with figure_style():
        figure = Figure(figsize=PAGE)
        figure.text(
            0.04, 0.955, printable(headline(result), 110), fontsize=HEADLINE - 2, va="top"
        ).set_fontweight("bold")
        name = printable(result.stack.name, 60)
        figure.text(
            0.04,
            0.905,
            f"{name}: {result.substrate}; bow over {say_value(result.length, 'm')}, positive: a "
            "bowl, the ends above the middle; 95 % intervals",
            fontsize=BODY,
            va="top",
        )
        height = min(_TALLEST, _PITCH * len(rows))
        ax = figure.add_axes((_LEFT, _TOP - height, _RIGHT - _LEFT, height))
        _draw(ax, rows, None if balance is None else balance.balance.target.value)
        _key(figure, rows, balance is not None, _TOP - height - 0.13)
        return figure


def _row(found: StateFound) -> _Row:
    return _Row(
        state_name(found), step_words(found), found.bow, found.bow_known, found.bow_predicted
    )


def _draw(ax: Axes, rows: list[_Row], target: float | None) -> None:
    ends = [0.0 if target is None else target]
    for row in rows:
        for bow in (row.bow, row.beside):
            if bow is not None:
                ends += [end for end in (bow.value, bow.low, bow.high) if end is not None]
    word, scale = display_unit(max(map(abs, ends)), "m")
    size = BODY if len(rows) <= 12 else SMALL
    ax.axvline(0.0, color=MIST, linewidth=0.8, zorder=0.5)
    if target is not None:
        ax.axvline(target / scale, color=INK, linestyle=(0, (5, 3)), linewidth=1.0, zorder=0.6)
    places = [(place, row.bow) for place, row in enumerate(rows) if row.bow is not None]
    ax.plot(
        [bow.value / scale for _, bow in places],
        [place for place, _ in places],
        color=SAND,
        linewidth=2.5,
        zorder=1.0,
    )
    for place, row in enumerate(rows):
        if row.beside is not None:
            _mark(ax, place + 0.22, row.beside, scale, marker="D", markerfacecolor=PAPER)
        told = "not known"
        if row.bow is not None:
            _mark(ax, float(place), row.bow, scale, **_LOOKS[row.known])
            told = say_or_dash(row.bow)
        ax.annotate(
            told,
            (1.0, place),
            xycoords=("axes fraction", "data"),
            xytext=(8, 0),
            textcoords="offset points",
            va="center",
            fontsize=size,
        )
    ax.set_yticks(range(len(rows)), [f"{row.name}\n{row.step}" for row in rows], fontsize=size - 1)
    ax.tick_params(axis="y", length=0.0)
    ax.spines["left"].set_visible(False)
    ax.set_ylim(len(rows) - 0.4, -0.6)
    ax.margins(x=0.05)
    ax.set_xlabel(f"bow [{word}]")


def _mark(ax: Axes, place: float, bow: Estimate, scale: float, **look: Any) -> None:
    if bow.low is not None and bow.high is not None:
        ax.plot(
            [bow.low / scale, bow.high / scale],
            [place, place],
            color=INK,
            linewidth=1.4,
            marker="|",
            markersize=7.0,
            zorder=2.0,
        )
    ax.plot(
        [bow.value / scale],
        [place],
        linestyle="none",
        markersize=7.0,
        markeredgecolor=INK,
        zorder=3.0,
        **look,
    )


def _key(figure: Figure, rows: list[_Row], has_target: bool, height: float) -> None:
    style: dict[str, Any] = {"linestyle": "none", "markersize": 7.0, "markeredgecolor": INK}
    there = {row.known for row in rows if row.bow is not None}
    handles = [
        Line2D([], [], label=f"bow {known.value}", **style, **look)
        for known, look in _LOOKS.items()
        if known in there
    ]
    if any(row.beside is not None for row in rows):
        style |= {"marker": "D", "markerfacecolor": PAPER}
        handles.append(Line2D([], [], label="predicted, where it was measured", **style))
    handles.append(Line2D([], [], color=INK, linewidth=1.4, marker="|", label="95 % interval"))
    if has_target:
        dashes = (0, (5, 3))
        handles.append(Line2D([], [], color=INK, linestyle=dashes, linewidth=1.0, label="target"))
    figure.legend(
        handles=handles,
        loc="lower left",
        ncols=len(handles),
        frameon=False,
        bbox_to_anchor=(0.03, height),
    )
