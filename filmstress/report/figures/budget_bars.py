"""An uncertainty budget as bars: which input makes how much of the variance."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from matplotlib.axes import Axes

from filmstress.records.budget import Budget
from filmstress.report.figures.style import BODY, INK, MIST, PAPER, SAND, SLATE, SMALL
from filmstress.report.words import display_unit
from filmstress.stats.rounding import significant

MOST_BARS = 8
_THICK = 0.26
_KEY = "(A) from scatter, hatched   (B) otherwise known, solid"

# Told apart by hatching, so that a grey print and every eye can; the pooled rest is of both kinds.
_LOOKS: dict[str, dict[str, Any]] = {
    "A": {"facecolor": PAPER, "edgecolor": INK, "linewidth": 0.7, "hatch": "/////"},
    "B": {"facecolor": SLATE, "edgecolor": INK, "linewidth": 0.7},
    "": {"facecolor": MIST, "edgecolor": INK, "linewidth": 0.7},
}


class _Bar(NamedTuple):
    name: str
    evaluation: str
    share: float
    contribution: float


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
    if budget.u == 0.0:
        ax.text(0.0, 1.0, "no uncertainty was stated or found", va="top", transform=ax.transAxes)
        return
    bars = _bars(budget)
    shares = [bar.share for bar in bars]
    for place, bar in enumerate(bars):
        ax.barh(-place, 1.0, height=_THICK, color=SAND, alpha=0.55, label="_whole")
        ax.barh(-place, bar.share, height=_THICK, label=bar.name, **_LOOKS[bar.evaluation])
        kind = f"  ({bar.evaluation})" if bar.evaluation else ""
        height = -place + 0.5 * _THICK + 0.07
        ax.text(0.0, height, f"{bar.name}{kind}", va="bottom", fontsize=SMALL)
        told = f"{bar.share * 100:.1f} %"
        if unit is not None:
            word, scale = display_unit(budget.u, unit)
            told = f"{significant(bar.contribution, 2, scale=scale)} {word}   {told}"
        ax.text(1.0, height, told, va="bottom", ha="right", fontsize=SMALL)
    ax.set_xlim(min(0.0, *shares), max(1.0, *shares))
    ax.set_ylim(-MOST_BARS - 0.35, 0.7)
    head = "bar: share of the variance"
    if unit is not None:
        head = f"standard uncertainty; {head}"
    ax.text(
        0.0, 0.3 - len(bars), f"{head}\n{_KEY}", va="top", fontsize=SMALL - 0.5, linespacing=1.5
    )


def _bars(budget: Budget) -> list[_Bar]:
    bars = [
        _Bar(row.term.input, row.term.evaluation, row.share, row.term.contribution)
        for row in budget.rows
    ]
    if len(bars) <= MOST_BARS:
        return bars
    shown, rest = bars[: MOST_BARS - 1], bars[MOST_BARS - 1 :]
    share = math.fsum(bar.share for bar in rest)
    together = budget.u * math.sqrt(max(share, 0.0))
    return [*shown, _Bar(f"{len(rest)} more inputs", "", share, together)]
