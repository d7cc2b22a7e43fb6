"""An uncertainty budget as bars: which input makes how much of the variance."""

from __future__ import annotations

import math

from matplotlib.axes import Axes

from filmstress.records.budget import Budget
from filmstress.report.figures.style import BODY, INK, MIST, PAPER, SAND, SLATE, SMALL
from filmstress.report.words import display_unit
from filmstress.stats.rounding import significant

MOST_ROWS = 8
_BAR = 0.26


def draw_budget(ax: Axes, budget: Budget, unit: str | None) -> None:
    """Draw the largest rows of a budget, the rest pooled.

    Parameters
    ----------
    ax : Axes
        Is filled from the top and loses its frame.
    budget : Budget
    unit : str or None
        SI unit of the output; None: shares only, as where the output may not be stated.
    """
    ax.set_axis_off()
    ax.set_title("What the uncertainty is made of", loc="left", fontsize=BODY, fontweight="bold")
    if not budget.rows or budget.u == 0.0:
        ax.text(0.0, 1.0, "no uncertainty was stated or found", va="top", transform=ax.transAxes)
        return
    rows = [
        (row.term.input, row.term.evaluation, row.share, row.term.contribution)
        for row in budget.rows
    ]
    if len(rows) > MOST_ROWS:
        rest = rows[MOST_ROWS - 1 :]
        share = math.fsum(row[2] for row in rest)
        rows = rows[: MOST_ROWS - 1]
        together = budget.u * math.sqrt(max(share, 0.0))
        rows.append((f"{len(rest)} more inputs", "", share, together))
    for place, (name, evaluation, share, contribution) in enumerate(rows):
        ax.barh(-place, 1.0, height=_BAR, color=SAND, alpha=0.55, label="_whole")
        ax.barh(
            -place,
            share,
            height=_BAR,
            edgecolor=INK,
            linewidth=0.7,
            label=name,
            **_EVALUATION[evaluation],
        )
        kind = f"  ({evaluation})" if evaluation else ""
        height = -place + 0.5 * _BAR + 0.07
        ax.text(0.0, height, f"{name}{kind}", va="bottom", fontsize=SMALL)
        told = f"{share * 100:.1f} %"
        if unit is not None:
            word, scale = display_unit(max(row[3] for row in rows), unit)
            told = f"{significant(contribution, 2, scale=scale)} {word}   {told}"
        ax.text(1.0, height, told, va="bottom", ha="right", fontsize=SMALL)
    lowest = min(0.0, *(row[2] for row in rows))
    ax.set_xlim(lowest, max(1.0, *(row[2] for row in rows)))
    ax.set_ylim(-MOST_ROWS - 0.35, 0.7)
    ax.text(
        0.0,
        -len(rows) + 0.3,
        (
            "bars: share of the variance"
            if unit is None
            else "standard uncertainty brought; bar: share of the variance"
        )
        + "\n(A) from scatter, hatched   (B) otherwise known, solid",
        va="top",
        fontsize=SMALL - 0.5,
        linespacing=1.5,
    )


_EVALUATION = {
    "A": {"facecolor": PAPER, "hatch": "/////"},
    "B": {"facecolor": SLATE},
    "": {"facecolor": MIST},
}
