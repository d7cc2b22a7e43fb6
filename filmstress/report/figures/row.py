"""A row of panels that share one height axis, and how curves are put into it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import Transform, blended_transform_factory
from numpy.typing import NDArray

from filmstress.report.figures.curves import Curve
from filmstress.report.figures.notes import in_lines
from filmstress.report.figures.style import CLAY, INK, SAND, SMALL
from filmstress.report.figures.thinning import kept_line, masked_points
from filmstress.report.words import display_unit

Floats = NDArray[np.float64]

MASKED = "masked: not fitted"
BEYOND = "masked, beyond the panel"
BAND = "95 % band of the fit"

_MM = 1e-3
# Shares of the panel's height: free room above and below the curves, and how far inside the edge
# the marks of points beyond it stand.
_ROOM = 0.2
_EDGE = 0.04
# What a page can show: stretches of a thinned line, and marks of masked points, in a row of panels.
_BINS, _MOST_BINS, _LEAST_BINS = 2000, 900, 100
_MARKS, _LEAST_MARKS = 160, 60
_FEW_POINTS = 200
_BAND_PLACES = 41
NOTE_WIDTH = 125
LABEL_PLACE = 0.022


def beside(figure: Figure, ax: Axes) -> Transform:
    """Across the figure's width, and along the height of a panel."""
    return blended_transform_factory(figure.transFigure, ax.transAxes)


class Row:
    """One row of panels: one height axis for all, so one display unit and one pair of limits.

    Parameters
    ----------
    figure : Figure
    axes : sequence of Axes
        One panel per column.
    title : str
        What the height axis shows; the unit is added.
    heights : iterable of ndarray
        Heights that must fit into the panels [m]; what is not finite counts for nothing.
    overlaid : int
        Most lines that share a panel, for thinning.
    """

    def __init__(
        self,
        figure: Figure,
        axes: Sequence[Axes],
        *,
        title: str,
        heights: Iterable[Floats],
        overlaid: int,
    ) -> None:
        every = np.concatenate([z[np.isfinite(z)] for z in heights])
        low, high = float(every.min()), float(every.max())
        room = _ROOM * (high - low) or 1e-9
        # Twice, because an axis reads better below 1000 nm than below the text's 2000 nm.
        word, self.unit = display_unit(2.0 * max(abs(low), abs(high)), "m")
        self.low, self.high = (low - room) / self.unit, (high + room) / self.unit
        self.panels = len(axes)
        drawn = self.panels * overlaid
        self.bins = min(_MOST_BINS, max(_LEAST_BINS, _BINS // drawn))
        self.marks = max(_LEAST_MARKS, _MARKS // drawn)
        for ax in axes:
            ax.set_ylim(self.low, self.high)
        axes[0].set_ylabel(f"{title} [{word}]")
        # At one place in all rows, however long the numbers beside the axis are.
        place = beside(figure, axes[0])
        axes[0].yaxis.set_label_coords(LABEL_PLACE, 0.5, transform=place)

    def kept(self, ax: Axes, curve: Curve, *, label: str, color: str, width: float) -> None:
        """Draw the kept points of a curve as a line, with dots where they are few."""
        x, z = kept_line(curve, bins=self.bins)
        marker = "." if curve.x.size <= _FEW_POINTS else ""
        self.line(
            ax, x, z, label=label, color=color, linewidth=width, marker=marker, markersize=3.0
        )

    def masked(self, ax: Axes, curve: Curve) -> None:
        """Mark the masked points; those beyond the panel are pointed to from its edge."""
        x, z = masked_points(curve, most=self.marks)
        inset = _EDGE * (self.high - self.low)
        low, high = (self.low + inset) * self.unit, (self.high - inset) * self.unit
        above, below = z > self.high * self.unit, z < self.low * self.unit
        for where, height, marker, label in (
            (~(above | below), z, "x", MASKED),
            (above, np.full(z.size, high), "^", BEYOND),
            (below, np.full(z.size, low), "v", BEYOND),
        ):
            if where.any():
                self.line(
                    ax,
                    x[where],
                    height[where],
                    label=label,
                    color=INK,
                    linestyle="none",
                    marker=marker,
                    markersize=5.0,
                    markerfacecolor="none",
                    markeredgewidth=0.9,
                    zorder=5.0,
                )

    def line(self, ax: Axes, x: Floats, z: Floats, **look: Any) -> None:
        """Draw any line; positions and heights in metres."""
        ax.plot(x / _MM, z / self.unit, **look)

    def band(self, ax: Axes, x: Floats, middle: Floats, half: Floats) -> None:
        """Draw a coverage band; nothing where its width is not known."""
        if not np.isfinite(half).all():
            return
        few = np.linspace(0, x.size - 1, _BAND_PLACES).round().astype(int)
        x, low, high = x[few], (middle - half)[few], (middle + half)[few]
        # The band lies under the data, its edges over them: neither hides the other.
        ax.fill_between(
            x / _MM,
            low / self.unit,
            high / self.unit,
            facecolor=SAND,
            edgecolor="none",
            alpha=0.6,
            zorder=1.0,
            label=BAND,
        )
        for edge in (low, high):
            self.line(ax, x, edge, color=CLAY, linewidth=0.6, zorder=2.5, label="_edge")

    def name(self, ax: Axes, curves: Sequence[Curve], text: str, *, above: bool) -> None:
        """Write the name of curves beside their middle."""
        x = np.concatenate([curve.x[curve.keep] for curve in curves])
        z = np.concatenate([curve.z[curve.keep] for curve in curves])
        middle = 0.5 * (x.min() + x.max())
        near = z[np.argsort(np.abs(x - middle), kind="stable")[: max(1, x.size // 10)]]
        ax.annotate(
            text,
            (middle / _MM, float(near.max() if above else near.min()) / self.unit),
            (0, 3 if above else -3),
            textcoords="offset points",
            ha="center",
            va="bottom" if above else "top",
            fontsize=SMALL,
            fontstyle="italic",
        )

    def note(self, ax: Axes, parts: Sequence[str]) -> None:
        """Write small words above a panel."""
        lines = in_lines(parts, ", ", NOTE_WIDTH // self.panels)
        ax.set_title("\n".join(lines), loc="left", fontsize=SMALL, pad=4.0, linespacing=1.15)
