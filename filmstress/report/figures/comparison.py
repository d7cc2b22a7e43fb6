"""A comparison as a picture: every lot, the means, and the differences with their intervals."""

from __future__ import annotations

from textwrap import wrap

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from filmstress.report.comparison import Compared, equivalence_words, finding
from filmstress.report.figures.style import (
    BODY,
    HEADLINE,
    INK,
    PAGE,
    SAND,
    SLATE,
    SMALL,
    figure_style,
)
from filmstress.report.words import say_ends


def draw_comparison(compared: Compared) -> Figure:
    """Draw a comparison.

    Left every value (a lot's mean, or a wafer) and the mean of each selection; right each
    difference with its 95 % interval, the margin shaded.

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    with figure_style():
        figure = Figure(figsize=PAGE)
        pairs = compared.differences
        head = finding(compared, pairs[0]) if len(pairs) == 1 else "Differences of mean stress"
        size = HEADLINE if len(head) < 75 else 0.75 * HEADLINE
        figure.text(
            0.07,
            0.94,
            "\n".join(wrap(head, 105)),
            fontsize=size,
            fontweight="bold",
            va="top",
        )
        if len(pairs) == 1 and compared.margin is not None:
            told = equivalence_words(compared, pairs[0])
            figure.text(0.07, 0.86, told[0].upper() + told[1:], fontsize=BODY, va="top")
        _draw_values(figure.add_axes((0.16, 0.14, 0.34, 0.64)), compared)
        _draw_differences(figure.add_axes((0.66, 0.14, 0.30, 0.64)), compared)
        dots = "means of lots" if compared.selections[0].per == "lot" else "wafers"
        once = "hold all at once" if len(pairs) > 1 else "95 %"
        note = (
            f"Dots: {dots}; bars: means of the selections. Intervals: {once}. Tension is positive."
        )
        figure.text(0.07, 0.035, note, fontsize=SMALL)
        return figure


def _draw_values(ax: Axes, compared: Compared) -> None:
    for place, one in enumerate(compared.selections):
        values = [value / 1e6 for value in one.values]
        ax.plot(values, [-place] * len(values), "o", color=SLATE, markersize=5, alpha=0.6, mew=0.0)
        ax.plot([sum(values) / len(values)], [-place], "|", color=INK, markersize=26, mew=2.0)
    names = [one.name for one in compared.selections]
    _rows(ax, ["\n".join(wrap(name, 22)) for name in names])
    ax.set_xlabel("stress [MPa]")


def _draw_differences(ax: Axes, compared: Compared) -> None:
    if compared.margin is not None:
        half = compared.margin / 1e6
        ax.axvspan(-half, half, color=SAND, alpha=0.6, lw=0.0)
        ax.set_title("shaded: the margin", loc="left", fontsize=SMALL)
    ax.axvline(0.0, color=INK, linestyle=(0, (5, 3)), linewidth=1.0)
    for place, pair in enumerate(compared.differences):
        ax.plot([pair.low / 1e6, pair.high / 1e6], [-place] * 2, color=SLATE, linewidth=4.0)
        ax.plot([pair.value / 1e6], [-place], "|", color=INK, markersize=16, mew=2.0)
        ax.annotate(
            " to ".join(say_ends(pair.low, pair.high, pair.high - pair.low, "Pa")),
            (pair.value / 1e6, -place),
            xytext=(0, 12),
            textcoords="offset points",
            ha="center",
            fontsize=SMALL,
        )
    _rows(
        ax,
        ["\n".join(wrap(f"{p.first} less {p.second}", 24)) for p in compared.differences],
    )
    ax.set_xlabel("difference of mean stress [MPa]")


def _rows(ax: Axes, names: list[str]) -> None:
    ax.set_yticks([-place for place in range(len(names))], names)
    ax.tick_params(axis="y", length=0.0)
    ax.spines["left"].set_visible(False)
    ax.set_ylim(-len(names) + 0.4, 0.6)
    ax.margins(x=0.1)
