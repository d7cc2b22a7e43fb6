"""The figure of a lot: every wafer's stress with its interval, against the limits."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator
from matplotlib.transforms import blended_transform_factory

from filmstress.records.lot import LotResult, Specification, WaferOutcome
from filmstress.report.figures.style import (
    BODY,
    CLAY,
    HEADLINE,
    INK,
    MIST,
    PAGE,
    PAPER,
    SLATE,
    SMALL,
    figure_style,
)
from filmstress.report.verdict import Verdict, verdict
from filmstress.report.words import printable, say_estimate, say_value

# Rows that one column can hold and still be told apart, on paper as on a phone.
MOST_ROWS = 75
_MPA = 1e6
_WIDTH = 3.25
_PITCH, _CLOSE_PITCH, _FEW = 0.19, 0.112, 30
_ABOVE, _BELOW = 0.36, 0.5
_LONGEST_ID = 14
# Of the figure by itself: shares of its height, and the pitch of few rows [inch].
_TOP, _TALLEST, _WIDE_PITCH = 0.85, 0.72, 0.42

# Told apart by shape and filling, which a grey print and every eye can see.
_MARKS: dict[Verdict, dict[str, Any]] = {
    Verdict.WITHIN: {"marker": "o", "markerfacecolor": SLATE},
    Verdict.NOT_JUDGED: {"marker": "o", "markerfacecolor": SLATE},
    Verdict.UNDECIDED: {"marker": "o", "markerfacecolor": PAPER},
    Verdict.OUTSIDE: {"marker": "X", "markerfacecolor": INK, "markersize": 7.0},
    Verdict.WITNESS: {"marker": "s", "markerfacecolor": PAPER},
}


def draw_lot(result: LotResult) -> Figure:
    """Draw a lot by itself: headline, rows of wafers in as many columns as it takes, key.

    Parameters
    ----------
    result : LotResult

    Returns
    -------
    matplotlib.figure.Figure
        As wide as A4, landscape, and as tall as its rows want, up to that; see
        `filmstress.report.figures.saving.save_figure`.
    """
    parts = _parts(result.wafers)
    slots = max(map(len, parts))
    rows = min(_TALLEST * PAGE[1], slots * _WIDE_PITCH)
    tall = rows + (1.0 - _TALLEST) * PAGE[1]

    def down(share: float) -> float:
        """Where a place of the full page lies on this one, as far from the top."""
        return 1.0 - (1.0 - share) * PAGE[1] / tall

    with figure_style():
        figure = Figure(figsize=(PAGE[0], tall))
        recipe = f", recipe {result.lot.recipe}" if result.lot.recipe else ""
        decision = (result.decision or "no decision").capitalize()
        figure.text(
            0.04,
            down(0.965),
            printable(f"{decision}:  lot {result.lot.lot}{recipe}", 80),
            fontsize=HEADLINE,
            fontweight="bold",
            va="top",
        )
        mean = result.statistics.mean
        if mean is not None:
            told = f"mean of {result.statistics.measured}: {say_estimate(mean, sign=True)} (95 %)"
            figure.text(0.04, down(0.918), told, fontsize=BODY, va="top")
        room = _id_room(result.wafers) / PAGE[0]
        left = 0.04 + room
        bottom = down(_TOP) - rows / tall
        grid = figure.add_gridspec(
            1,
            len(parts),
            left=left,
            right=0.975,
            top=down(_TOP),
            bottom=bottom,
            wspace=_between(left, room + 0.015, len(parts)),
        )
        for place, part in enumerate(parts):
            ax = figure.add_subplot(grid[place])
            _draw_rows(ax, part, result, slots=slots)
            if place:
                ax.set_title("", loc="right")
        _key(figure, result, bottom - 0.115 * PAGE[1] / tall)
    return figure


def draw_lot_parts(result: LotResult) -> list[Figure]:
    """Draw a lot for a narrow page: figures of at most ``MOST_ROWS`` wafers, one stress axis."""
    parts = _parts(result.wafers)
    rows = max(map(len, parts))
    height = _ABOVE + _BELOW + rows * (_PITCH if rows <= _FEW else _CLOSE_PITCH)
    left = min(0.4, 0.05 + _id_room(result.wafers) / _WIDTH)
    figures = []
    with figure_style():
        for part in parts:
            figure = Figure(figsize=(_WIDTH, height))
            ax = figure.add_axes(
                (left, _BELOW / height, 0.97 - left, 1.0 - (_ABOVE + _BELOW) / height)
            )
            _draw_rows(ax, part, result, slots=rows)
            figures.append(figure)
    return figures


def _between(left: float, room: float, columns: int) -> float:
    """The room between columns relative to their width, as a grid wants it."""
    return room * columns / (0.975 - left - (columns - 1) * room)


def _parts(wafers: Sequence[WaferOutcome]) -> list[Sequence[WaferOutcome]]:
    """Runs of about equal length, none longer than a column can hold."""
    count = math.ceil(len(wafers) / MOST_ROWS)
    size = math.ceil(len(wafers) / count)
    return [wafers[start : start + size] for start in range(0, len(wafers), size)]


def _id_room(wafers: Sequence[WaferOutcome]) -> float:
    """Width of the names beside the axis [inch]."""
    longest = max(len(printable(one.id, _LONGEST_ID)) for one in wafers)
    return 0.085 * longest + 0.1


def _draw_rows(ax: Axes, wafers: Sequence[WaferOutcome], result: LotResult, *, slots: int) -> None:
    """One row a wafer, from the top; all parts of a lot have the same axes."""
    specification = result.lot.specification
    low, high = _reach(result)
    ax.set_xlim(low, high)
    ax.set_ylim(slots - 0.4, -0.6)
    ax.set_yticks(range(len(wafers)), [printable(one.id, _LONGEST_ID) for one in wafers])
    ax.tick_params(axis="y", length=0.0, labelsize=_type(ax, slots))
    ax.xaxis.set_major_locator(MaxNLocator(5))
    ax.set_xlabel("film stress [MPa], tension positive")
    ax.spines["left"].set_visible(False)
    _draw_limits(ax, specification)
    if low < 0.0 < high:
        ax.axvline(0.0, color=MIST, linewidth=0.8, linestyle=(0, (1, 2)), zorder=1.0)
    middle = blended_transform_factory(ax.transAxes, ax.transData)
    for place, outcome in enumerate(wafers):
        ax.axhline(place, color=MIST, linewidth=0.4, zorder=0.5)
        stress, kind = outcome.stress, verdict(outcome, specification)
        if stress is None or kind is Verdict.REFUSED:
            told = "refused" if kind is Verdict.REFUSED else "no film thickness, no stress"
            ax.text(
                0.5,
                place,
                told,
                transform=middle,
                ha="center",
                va="center",
                fontsize=SMALL,
                fontstyle="italic",
                bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.0},
            )
            continue
        ends = [low if stress.low is None else stress.low / _MPA]
        ends.append(high if stress.high is None else stress.high / _MPA)
        if stress.u is not None:
            ax.plot(ends, [place, place], color=INK, linewidth=1.4, marker="|", markersize=4.5)
        ax.plot([stress.value / _MPA], [place], **_look(kind))


def _type(ax: Axes, slots: int) -> float:
    """Type size of the names: smaller where rows are closer than it is high."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    pitch = ax.get_position().height * figure.get_figheight() * 72.0 / slots
    return min(SMALL, 0.95 * pitch)


def _look(kind: Verdict) -> dict[str, Any]:
    look = {"linestyle": "none", "markersize": 5.0, "markeredgecolor": INK, "zorder": 4.0}
    return look | {"markeredgewidth": 0.9} | _MARKS[kind]


def _draw_limits(ax: Axes, specification: Specification | None) -> None:
    if specification is None or (specification.lower is None and specification.upper is None):
        return
    low, high = ax.get_xlim()
    for limit, edge in ((specification.lower, low), (specification.upper, high)):
        if limit is not None:
            ax.axvline(limit / _MPA, color=CLAY, linewidth=1.6, zorder=2.0)
            ax.axvspan(
                *sorted((limit / _MPA, edge)),
                facecolor="none",
                edgecolor=MIST,
                linewidth=0.0,
                hatch="////",
                zorder=0.2,
            )
    ax.set_title(f"hatched: {_beyond(specification)}", loc="right", fontsize=SMALL, pad=5.0)


def _beyond(specification: Specification) -> str:
    """``below 150 MPa and above 230 MPa``."""
    words = []
    if specification.lower is not None:
        words.append(f"below {say_value(specification.lower, 'Pa')}")
    if specification.upper is not None:
        words.append(f"above {say_value(specification.upper, 'Pa')}")
    return " and ".join(words)


def _reach(result: LotResult) -> tuple[float, float]:
    """Ends of the stress axis [MPa]: all intervals and limits, and some room."""
    specification = result.lot.specification
    limits = () if specification is None else (specification.lower, specification.upper)
    ends = [limit / _MPA for limit in limits if limit is not None]
    ends += [end / _MPA for end in _ends(result.wafers)]
    low, high = (min(ends), max(ends)) if ends else (-1.0, 1.0)
    room = 0.07 * (high - low) or 0.1 * abs(high) or 1.0
    return low - room, high + room


def _ends(wafers: Sequence[WaferOutcome]) -> Iterator[float]:
    for stress in (one.stress for one in wafers):
        if stress is not None:
            for end in (stress.value, stress.low, stress.high):
                if end is not None:
                    yield end


def _key(figure: Figure, result: LotResult, height: float) -> None:
    kinds = dict.fromkeys(verdict(one, result.lot.specification) for one in result.wafers)
    handles = [
        Line2D([], [], label=kind.value, **_look(kind))
        for kind in Verdict
        if kind in kinds and kind in _MARKS
    ]
    handles.append(Line2D([], [], color=INK, linewidth=1.4, marker="|", label="95 % interval"))
    figure.legend(
        handles=handles,
        loc="lower left",
        ncols=len(handles),
        frameon=False,
        bbox_to_anchor=(0.03, height),
    )
