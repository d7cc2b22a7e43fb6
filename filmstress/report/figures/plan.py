"""A plan as a picture: how sure the stress would be, and what would make it surer."""

from __future__ import annotations

from textwrap import wrap

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from filmstress.records.plan import Plan
from filmstress.report.figures.budget_bars import draw_budget
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
from filmstress.report.plan import change_words, recommendation
from filmstress.report.words import display_unit, say_estimate, say_value

_LEFT = 0.27


def draw_plan(plan: Plan) -> Figure:
    """Draw a plan.

    The interval of the expected stress as planned and with each thing done otherwise, against the
    limits where there are some; beside it the uncertainty budget.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    with figure_style():
        figure = Figure(figsize=PAGE)
        told = say_estimate(plan.stress, sign=True)
        head = f"Would be found: {told}" if plan.refusal is None else "Would carry no stress"
        figure.text(0.07, 0.93, head, fontsize=HEADLINE, fontweight="bold", va="top")
        advice = "\n".join(wrap(recommendation(plan), 130))
        figure.text(0.07, 0.875, advice, fontsize=BODY, va="top", linespacing=1.5)
        _draw_intervals(figure.add_axes((_LEFT, 0.14, 0.38, 0.62)), plan)
        unit = None if plan.refusal else plan.stress.unit
        draw_budget(figure.add_axes((0.71, 0.22, 0.25, 0.54)), plan.budget, unit)
        figure.text(
            0.07,
            0.035,
            f"Medians of {plan.trials} simulated measurements of a scan of "
            f"{say_value(plan.instrument.length_m, 'm')}; 95 % intervals.",
            fontsize=SMALL,
        )
        return figure


def _draw_intervals(ax: Axes, plan: Plan) -> None:
    word, scale = display_unit(
        max(abs(plan.expected), plan.stress.expanded or 0.0), plan.stress.unit
    )
    middle = plan.expected / scale
    rows = [("as planned", plan.stress.expanded or 0.0)]
    rows += [(change_words(one), one.expanded) for one in plan.changes]
    for limit in (plan.lower, plan.upper):
        if limit is not None:
            ax.axvline(limit / scale, color=INK, linestyle=(0, (5, 3)), linewidth=1.0)
    for place, (name, expanded) in enumerate(rows):
        half = expanded / scale
        tone = SLATE if place == 0 else SAND
        ax.barh(
            -place,
            2.0 * half,
            left=middle - half,
            height=0.42,
            facecolor=tone,
            edgecolor=INK,
            linewidth=0.7,
            label=name,
        )
        ax.plot([middle], [-place], marker="|", color=INK, markersize=14, linestyle="none")
        ax.annotate(
            f"± {say_value(expanded, plan.stress.unit, 2)}",
            (middle + half, -place),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            fontsize=SMALL,
        )
    ax.set_yticks([-place for place in range(len(rows))], [name for name, _ in rows])
    ax.tick_params(axis="y", length=0.0)
    ax.spines["left"].set_visible(False)
    ax.set_ylim(-len(rows) + 0.4, 0.6)
    ax.margins(x=0.18)
    ax.set_xlabel(f"{'stress' if plan.stress.unit == 'Pa' else 'force per width'} [{word}]")
    if plan.lower is not None or plan.upper is not None:
        ax.set_title("dashed: the limits", loc="left", fontsize=SMALL)
