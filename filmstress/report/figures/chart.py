"""Control charts as a picture: the lots over time, their limits, and what signals."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from filmstress.charting.charts import ChartKind, RecipeChart
from filmstress.charting.lots import LotPoint
from filmstress.report.chart import capability_line
from filmstress.report.chart_words import (
    KIND_WORDS,
    POINT_WORDS,
    baseline_words,
    happened,
    lasts,
    provisional_words,
    rules_words,
    specification_words,
    verdict,
)
from filmstress.report.figures.style import (
    BODY,
    CLAY,
    HEADLINE,
    INK,
    MIST,
    PAGE,
    SAND,
    SLATE,
    SMALL,
    figure_style,
)
from filmstress.report.words import printable, say_value
from filmstress.stats.control.chart import Chart, Floats, Kind
from filmstress.stats.coverage import t_factor

_LEFT, _WIDTH = 0.08, 0.74
_TOLD = 4
_TICKS = 10
_MPA = 1e-6
_CONTROL = (0, (5, 3))
_SPECIFICATION = (0, (6, 2, 1, 2))


def draw_chart(chart: RecipeChart) -> Figure:
    """Draw the charts of a recipe, one below the other over the same lots.

    Parameters
    ----------
    chart : RecipeChart

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    with figure_style():
        figure = Figure(figsize=PAGE)
        head = f"{printable(chart.series.recipe, 60)}: {verdict(chart)}"
        figure.text(0.05, 0.955, head, fontsize=HEADLINE, fontweight="bold", va="top")
        told = _told_events(chart)
        figure.text(0.05, 0.905, "\n".join(told), fontsize=BODY, va="top", linespacing=1.4)
        top = 0.87 - 0.023 * len(told)
        panels = _panels(figure, max(1, len(chart.charts)), top)
        if chart.sums is not None:
            _draw_sums(panels[0], chart)
        for ax, one in zip(panels, chart.charts, strict=False):
            _draw_one(ax, chart, one, first=one is chart.charts[0])
        for ax in panels[:-1]:
            ax.tick_params(axis="x", labelbottom=False)
        _name_lots(panels[-1], chart.points)
        figure.text(0.05, 0.025, "\n".join(_footer(chart)), fontsize=SMALL, linespacing=1.4)
        return figure


def _told_events(chart: RecipeChart) -> list[str]:
    # What goes on is asked about first, then what is latest.
    told = sorted(chart.events, key=lambda one: (lasts(chart, one), one.last), reverse=True)
    lines = [
        line
        for event in told[:_TOLD]
        for line in wrap("• " + printable(happened(chart, event), 300), 150)
    ]
    if len(told) > _TOLD:
        lines.append(f"and {len(told) - _TOLD} more")
    return lines or [f"{len(chart.points)} lots, {chart.series.wafers} wafers"]


def _panels(figure: Figure, count: int, top: float) -> list[Axes]:
    bottom, gap = 0.2, 0.035
    heights = np.array([2.4, *[1.0] * (count - 1)])
    heights *= (top - bottom - gap * (count - 1)) / heights.sum()
    panels: list[Axes] = []
    for height in heights:
        top -= height
        ax = figure.add_axes((_LEFT, top, _WIDTH, height), sharex=panels[0] if panels else None)
        panels.append(ax)
        top -= gap
    return panels


def _draw_one(ax: Axes, chart: RecipeChart, one: Chart, *, first: bool) -> None:
    x = np.arange(len(one.points))
    ax.set_label(one.kind.value)
    _mark_baseline(ax, chart, told=first)
    marked = [i for event in chart.events if event.kind is one.kind for i in event.points]
    if first:
        _draw_bars(ax, chart, faint=one.kind is Kind.EWMA)
    _draw_points(ax, x, one.points * _MPA, marked)
    ax.plot(x, one.centre * _MPA, color=SLATE, linewidth=1.0, label="centre line")
    named = [("upper control limit", one.upper), ("centre line", one.centre)]
    # No range and no standard deviation lies below 0: such a limit limits nothing.
    if first or one.lower.any():
        named.append(("lower control limit", one.lower))
    for _, limit in named:
        if limit is not one.centre:
            ax.step(x, limit * _MPA, where="mid", color=SLATE, linestyle=_CONTROL, linewidth=1.0)
    names = [(f"{name} {say_value(float(y[-1]), 'Pa')}", float(y[-1])) for name, y in named]
    if first:
        ax.set_ylabel("mean stress of a lot [MPa]\n(tension positive)")
        ax.margins(y=0.12)
        names += _draw_specification(ax, chart.points)
    else:
        ax.set_ylabel(f"{_short(one.kind)}\n[MPa]")
        ax.set_ylim(bottom=0.0)
    _name(ax, names)


def _short(kind: Kind) -> str:
    return {Kind.MOVING_RANGE: "moving range\nof the means", Kind.SDS: "SD within\na lot"}.get(
        kind, POINT_WORDS[kind].replace(" a lot", "\na lot")
    )


def _draw_points(ax: Axes, x: NDArray[Any], y: Floats, marked: Sequence[int]) -> None:
    ax.plot(x, y, color=INK, linewidth=0.8, marker="o", markersize=3.2, label="points", zorder=3)
    if marked:
        at = sorted(set(marked))
        ax.plot(
            x[at],
            y[at],
            linestyle="none",
            marker="s",
            markersize=7.0,
            markerfacecolor="none",
            markeredgecolor=CLAY,
            markeredgewidth=1.6,
            label="part of a signal",
            zorder=4,
        )


def _draw_bars(ax: Axes, chart: RecipeChart, *, faint: bool) -> None:
    """95 % intervals: thick, from what differs between lots; thin, from everything."""
    if faint:
        means = [one.mean * _MPA for one in chart.points]
        ax.plot(means, linestyle="none", marker="o", markersize=2.6, color=MIST, label="means")
    known = [(i, one) for i, one in enumerate(chart.points) if one.u is not None]
    # One line with gaps for all bars: hundreds of lines would take seconds.
    x = np.array([(i, i, np.nan) for i, _ in known]).ravel()
    for name, width, all_of_it in (
        ("measurement", 0.7, True),
        ("differs between lots", 2.6, False),
    ):
        ends = []
        for _, one in known:
            half = t_factor(0.95, one.dof) * float((one.u if all_of_it else one.own_u) or 0.0)
            ends.append((one.mean - half, one.mean + half, np.nan))
        ax.plot(
            x,
            np.array(ends).ravel() * _MPA,
            color=MIST,
            linewidth=width,
            zorder=2,
            solid_capstyle="butt",
            label=name,
        )


def _mark_baseline(ax: Axes, chart: RecipeChart, *, told: bool) -> None:
    start, stop = chart.baseline
    ax.axvspan(start - 0.5, stop - 0.5, color=SAND, alpha=0.45, linewidth=0.0, zorder=0)
    if told:
        ax.annotate(
            "baseline",
            (start - 0.4, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 3),
            textcoords="offset points",
            fontsize=SMALL,
        )


def _draw_specification(ax: Axes, points: Sequence[LotPoint]) -> list[tuple[str, float]]:
    """The limits that wafers have to keep, where they lie near the chart; their names."""
    x = np.arange(len(points))
    low, high = ax.get_ylim()
    height = high - low
    latest = points[-1]
    far, names = False, []
    for name, now, row in (
        ("lower specification", latest.lower, [one.lower for one in points]),
        ("upper specification", latest.upper, [one.upper for one in points]),
    ):
        y = np.array([np.nan if one is None else one * _MPA for one in row])
        if now is None:
            continue
        if not low - height <= now * _MPA <= high + height:
            far = True
            continue
        ax.step(x, y, where="mid", color=INK, linestyle=_SPECIFICATION, linewidth=1.6, label=name)
        names.append((f"{name} {say_value(now, 'Pa')}", now))
    if far:
        ax.annotate(
            f"specification of every wafer: {specification_words(latest.lower, latest.upper)}, "
            "in part outside this picture",
            (1.0, 1.0),
            xycoords="axes fraction",
            xytext=(0, 3),
            textcoords="offset points",
            ha="right",
            fontsize=SMALL,
        )
    return names


def _draw_sums(ax: Axes, chart: RecipeChart) -> None:
    sums = chart.sums
    assert sums is not None
    x = np.arange(len(sums.high))
    ax.set_label("cumulative sums")
    _mark_baseline(ax, chart, told=True)
    names = []
    for values, side in ((sums.high, "above"), (-sums.low, "below")):
        marked = [i for event in chart.events if event.side == side for i in event.points]
        _draw_points(ax, x, values * _MPA, marked)
        names.append((f"sum {side} the centre", float(values[-1])))
    ax.axhline(0.0, color=SLATE, linewidth=1.0)
    for limit in (sums.threshold, -sums.threshold):
        ax.axhline(limit * _MPA, color=SLATE, linestyle=_CONTROL, linewidth=1.0)
        names.append((f"limit of the sums {say_value(limit, 'Pa')}", limit))
    ax.margins(y=0.08)
    ax.set_ylabel("cumulative sum of the lots' means\nfrom the centre line [MPa]")
    _name(ax, names)


def _name(ax: Axes, names: Sequence[tuple[str, float]]) -> None:
    """Words at the right ends of lines, kept apart where lines lie close."""
    low, high = ax.get_ylim()
    tall = ax.get_position().height * PAGE[1]
    apart = 0.15 / tall * (high - low)
    ordered = sorted(names, key=lambda one: one[1])
    places = np.array([value * _MPA for _, value in ordered])
    for _ in range(50):
        for i in range(len(places) - 1):
            if (missing := apart - (places[i + 1] - places[i])) > 0.0:
                places[i] -= 0.5 * missing
                places[i + 1] += 0.5 * missing
    for (text, _), place in zip(ordered, places, strict=True):
        ax.annotate(
            text,
            (1.0, float(place)),
            xycoords=("axes fraction", "data"),
            xytext=(6, 0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL,
            annotation_clip=False,
        )


def _name_lots(ax: Axes, points: Sequence[LotPoint]) -> None:
    step = max(1, -(-len(points) // _TICKS))
    at = list(range(0, len(points), step))
    names = [f"{_short_name(points[i].lot)}\n{points[i].at[:10]}" for i in at]
    ax.set_xticks(at, names)
    ax.set_xlim(-0.7, len(points) - 0.3)
    ax.set_xlabel("lot, in the order of time")


def _short_name(lot: str) -> str:
    """Names of lots differ at their ends."""
    name = printable(lot, 200)
    return name if len(name) <= 12 else "…" + name[-11:]


def _footer(chart: RecipeChart) -> list[str]:
    signals, often = rules_words(chart)
    bars = (
        ""
        if chart.kind is ChartKind.CUSUM
        else " Bars: 95 % intervals of the measurement, thick from what differs between lots, thin "
        "with what all lots share."
    )
    told = [
        f"Chart: {KIND_WORDS[chart.kind]}. Baseline: {printable(baseline_words(chart), 120)}.",
        f"What signals: {signals}; {often}.",
        f"{provisional_words(chart)}{bars}".strip(),
        capability_line(chart),
    ]
    return [line for text in told for line in wrap(text, 190)]
