"""A sweep as a picture: lots, the line with its band, and where it crosses."""

from __future__ import annotations

from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from filmstress.report.figures.style import (
    BODY,
    CLAY,
    HEADLINE,
    INK,
    PAGE,
    SAND,
    SLATE,
    SMALL,
    figure_style,
)
from filmstress.report.setting_scale import SettingScale
from filmstress.report.sweep import Swept, bounded, crossing_words, headline
from filmstress.report.words import say_value
from filmstress.stats.coverage import t_factor
from filmstress.stats.crossing import Crossing


def draw_sweep(swept: Swept) -> Figure:
    """Draw a sweep.

    Every lot, the line with its 95 % band, and the interval of the setting at zero stress and at
    the target.

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    with figure_style():
        figure = Figure(figsize=PAGE)
        head = "\n".join(wrap(headline(swept), 85))
        figure.text(0.07, 0.94, head, fontsize=HEADLINE, fontweight="bold", va="top")
        scale = swept.scale
        told = f"Zero crossing: {crossing_words(swept.zero, scale)}"
        if swept.setting is not None and swept.target is not None:
            told += f"\nFor {say_value(swept.target, 'Pa')}: {crossing_words(swept.setting, scale)}"
        figure.text(0.07, 0.875, told, fontsize=BODY, va="top", linespacing=1.6)
        _draw_line(figure.add_axes((0.09, 0.13, 0.86, 0.65)), swept)
        note = "Dots: means of lots. Band: 95 % of the line. Bars along a level: its setting, 95 %."
        figure.text(0.07, 0.035, note, fontsize=SMALL)
        return figure


def _draw_line(ax: Axes, swept: Swept) -> None:
    line, scale = swept.line, swept.scale
    low, high = float(line.x.min()), float(line.x.max())
    for found in (swept.zero, swept.setting):
        if found is not None and bounded(found) and abs(found.x - 0.5 * (low + high)) < high - low:
            low, high = min(low, found.x), max(high, found.x)
    room = 0.05 * (high - low)
    x = np.linspace(low - room, high + room, 81)
    y = np.array([line.value_at(float(at)) for at in x])
    budgets = [line.budget(1.0, float(at) - line.centre) for at in x]
    half = np.array([t_factor(0.95, one.dof) * one.u for one in budgets])
    shown = [scale.number(float(at)) for at in x]
    ax.fill_between(shown, (y - half) / 1e6, (y + half) / 1e6, color=SAND, alpha=0.6, lw=0.0)
    ax.plot(shown, y / 1e6, color=INK, linewidth=1.2)
    ax.plot(
        [scale.number(float(at)) for at in line.x],
        line.y / 1e6,
        "o",
        color=SLATE,
        markersize=6,
        mew=0.0,
    )
    _draw_crossing(ax, swept.zero, 0.0, scale)
    if swept.setting is not None and swept.target is not None:
        _draw_crossing(ax, swept.setting, swept.target / 1e6, scale)
    ax.set_xlim(shown[0], shown[-1])
    name = swept.sweep.parameter
    ax.set_xlabel(f"{name} [{scale.word}]" if scale.word else name)
    ax.set_ylabel("stress [MPa]")


def _draw_crossing(ax: Axes, found: Crossing, level: float, scale: SettingScale) -> None:
    ax.axhline(level, color=INK, linestyle=(0, (5, 3)), linewidth=0.8)
    low, high = found.set.low, found.set.high
    if bounded(found) and low is not None and high is not None:
        ends = [scale.number(low), scale.number(high)]
        ax.plot(ends, [level] * 2, color=CLAY, linewidth=5.0, alpha=0.8)
        ax.plot([scale.number(found.x)], [level], "|", color=INK, markersize=16, mew=2.0)
