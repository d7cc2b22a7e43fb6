"""A study of a gauge as a picture: readings, departures from the wafer's mean, components."""

from __future__ import annotations

import math
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

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
from filmstress.report.gauge import Judged, design_words, ends_of, headline, interval_words
from filmstress.report.words import display_unit, printable, say_value

# What tells operators apart without colour is the shape of their mark.
_MARKS = (("o", SLATE), ("s", CLAY), ("^", INK), ("D", MIST), ("v", SLATE), ("P", CLAY))
_MOST_NAMES = 24
# Of the gauge's standard deviation: what reaches farther leaves the panel, and says so.
_REACH = 2.6


def draw_gauge(judged: Judged) -> Figure:
    """Draw a study.

    Left every reading and the mean of its wafer, and below how readings depart from that mean;
    right the components with their 95 % intervals.

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    with figure_style():
        figure = Figure(figsize=PAGE)
        head = "\n".join(wrap(headline(judged), 85))
        figure.text(0.07, 0.955, head, fontsize=HEADLINE, fontweight="bold", va="top")
        told = "\n".join(_facts(judged))
        figure.text(0.07, 0.905, told, fontsize=BODY, va="top", linespacing=1.6)
        top = figure.add_axes((0.09, 0.51, 0.50, 0.30))
        below = figure.add_axes((0.09, 0.13, 0.50, 0.30))
        _draw_readings(top, judged)
        _draw_departures(below, judged)
        _draw_components(figure.add_axes((0.74, 0.13, 0.22, 0.68)), judged)
        note = "Dashes: means. Bars: standard deviations; whiskers: 95 %; arrows: beyond the panel."
        if judged.study.reading == "bow":
            note += " A bowl has a positive bow."
        figure.text(0.07, 0.03, note, fontsize=SMALL)
        return figure


def _facts(judged: Judged) -> list[str]:
    told = [design_words(judged.study)]
    if judged.found.of_total is not None:
        told[0] += f"  ·  gauge of the total (%GRR) {judged.found.of_total.value:.1f} %"
    if (used := judged.of_tolerance) is not None and judged.tolerance is not None:
        wide = say_value(judged.tolerance, judged.study.unit)
        told.append(f"six standard deviations are {used.value:.1f} % of the tolerance of {wide}")
    return told


def _places(judged: Judged) -> tuple[list[str], np.ndarray, np.ndarray]:
    """Names of the wafers, number of each reading's wafer, and of its operator or the like."""
    names = list(dict.fromkeys(judged.study.wafers))
    if all(name.isdecimal() for name in names):
        names.sort(key=int)
    wafer = np.array([names.index(one) for one in judged.study.wafers])
    if not judged.study.others:
        return names, wafer, np.zeros_like(wafer)
    if judged.study.crossed:
        others = list(dict.fromkeys(judged.study.others))
        return names, wafer, np.array([others.index(one) for one in judged.study.others])
    within: dict[int, list[str]] = {}
    other = []
    for number, name in zip(wafer.tolist(), judged.study.others, strict=True):
        known = within.setdefault(number, [])
        if name not in known:
            known.append(name)
        other.append(known.index(name))
    return names, wafer, np.array(other)


def _draw_readings(ax: Axes, judged: Judged) -> None:
    values = judged.study.values
    word, scale = display_unit(float(np.abs(values).max()), judged.study.unit)
    names, wafer, other = _places(judged)
    _draw_marks(ax, wafer, other, values / scale)
    for number in range(len(names)):
        mean = float(values[wafer == number].mean()) / scale
        ax.plot([number - 0.42, number + 0.42], [mean] * 2, color=INK, linewidth=1.2, zorder=1.0)
    _name_wafers(ax, names, named=False)
    _label(ax, judged.study.reading, word)
    ax.set_title("readings", loc="left", fontsize=BODY, fontweight="bold")
    if judged.study.between and judged.study.crossed:
        _name_marks(ax, judged)


def _draw_departures(ax: Axes, judged: Judged) -> None:
    values = judged.study.values
    names, wafer, other = _places(judged)
    means = np.array([values[wafer == number].mean() for number in range(len(names))])
    apart = values - means[wafer]
    word, scale = display_unit(float(np.abs(apart).max()), judged.study.unit)
    ax.axhline(0.0, color=INK, linewidth=0.7, zorder=0.5)
    spread = _draw_marks(ax, wafer, other, apart / scale)
    if other.max(initial=0) > 0:
        for number, one in sorted({*zip(wafer.tolist(), other.tolist(), strict=True)}):
            mean = float(apart[(wafer == number) & (other == one)].mean()) / scale
            at = number + spread * (one - 0.5 * other.max())
            half = 0.45 * spread
            ax.plot([at - half, at + half], [mean] * 2, color=INK, linewidth=1.2)
    _name_wafers(ax, names, named=True)
    _label(ax, "departure", word)
    ax.margins(y=0.1)
    ax.set_title("departure from the wafer's mean", loc="left", fontsize=BODY, fontweight="bold")


def _draw_marks(ax: Axes, wafer: np.ndarray, other: np.ndarray, y: np.ndarray) -> float:
    """Marks of every reading, operators side by side; gives the room between these."""
    count = int(other.max(initial=0)) + 1
    spread = 0.8 / count
    for one in range(count):
        chosen = other == one
        mark, colour = _MARKS[one % len(_MARKS)]
        at = wafer[chosen] + spread * (one - 0.5 * (count - 1))
        ax.plot(at, y[chosen], mark, color=colour, markersize=4.5, mew=0.0, alpha=0.8, zorder=2.0)
    return spread


def _name_marks(ax: Axes, judged: Judged) -> None:
    names = list(dict.fromkeys(judged.study.others))
    if len(names) > len(_MARKS):
        return
    for name, (mark, colour) in zip(names, _MARKS, strict=False):
        told = f"{judged.study.between} {printable(name, 18)}"
        ax.plot([], [], mark, color=colour, markersize=5.0, mew=0.0, label=told)
    ax.legend(
        loc="lower right",
        bbox_to_anchor=(1.0, 1.0),
        ncols=len(names),
        frameon=False,
        borderaxespad=0.1,
        handletextpad=0.1,
        columnspacing=1.2,
    )


def _name_wafers(ax: Axes, names: list[str], *, named: bool) -> None:
    step = math.ceil(len(names) / _MOST_NAMES)
    places = range(0, len(names), step)
    ax.set_xticks(places, [printable(names[i], 14) for i in places] if named else [])
    longest = max(len(printable(name, 14)) for name in names)
    if named and longest * len(places) > 75:
        ax.tick_params(axis="x", rotation=90.0)
    if named:
        ax.set_xlabel("wafer")
    ax.tick_params(axis="x", length=0.0)
    ax.set_xlim(-0.6, len(names) - 0.4)
    for number in range(len(names) - 1):
        ax.axvline(number + 0.5, color=SAND, linewidth=0.6, zorder=0.2)


def _label(ax: Axes, name: str, word: str) -> None:
    ax.set_ylabel(f"{printable(name, 30)} [{word}]" if word else printable(name, 30))


def _draw_components(ax: Axes, judged: Judged) -> None:
    unit = judged.study.unit
    sd = judged.found.gauge.sd
    word, scale = display_unit(sd, unit)
    reach = _REACH * sd / scale
    for place, (name, one) in enumerate(judged.components.items()):
        colour = CLAY if name == "gauge" else (SAND if name == "wafers" else MIST)
        ax.barh([-place], [min(one.sd / scale, reach)], height=0.42, color=colour)
        low, high = (end / scale for end in ends_of(one))
        if one.high > 0.0 and low < reach:
            ax.plot([low, min(high, reach)], [-place] * 2, color=INK, linewidth=1.4)
            ax.plot([low], [-place], "|", color=INK, markersize=9, mew=1.4)
            if high <= reach:
                ax.plot([high], [-place], "|", color=INK, markersize=9, mew=1.4)
        if max(one.sd / scale, high) > reach:
            ax.plot([reach], [-place], ">", color=INK, markersize=5, mew=0.0, clip_on=False)
        told = f"{say_value(one.sd, unit, 2)}  ({interval_words(one, unit)})"
        ax.text(0.0, 0.25 - place, told, fontsize=SMALL, va="bottom")
    names = [
        "\n".join(wrap(printable(name, 60), 18, break_long_words=False))
        for name in judged.components
    ]
    ax.set_yticks([-place for place in range(len(names))], names)
    ax.tick_params(axis="y", length=0.0)
    ax.set_ylim(0.4 - len(names), 0.75)
    ax.set_xlim(0.0, reach)
    ax.set_xlabel(f"standard deviation [{word}]" if word else "standard deviation")
    ax.set_title("components", loc="left", fontsize=BODY, fontweight="bold")
