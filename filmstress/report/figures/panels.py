"""The three panels of one azimuth: the shapes, their change with its parabola, what that leaves."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from filmstress.report.figures.curves import Column, Curve, Curves
from filmstress.report.figures.notes import masked_note, placement_note, residual_note
from filmstress.report.figures.row import Row
from filmstress.report.figures.style import CLAY, INK, MIST, SLATE
from filmstress.report.figures.thinning import running_mean

Floats = NDArray[np.float64]

CHANGE = "after minus before"

# The trend is a mean over this share of the scan, or over as many points as make one.
_TREND_WINDOW = 1.0 / 25.0
_TREND_LEAST = 9
_TREND_PLACES = 121
# Repeats share a panel; what tells them apart without colour is the dash of their trend.
_DASHES: tuple[str | tuple[int, tuple[float, ...]], ...] = (
    "-",
    (0, (5, 2)),
    (0, (5, 2, 1, 2)),
    (0, (1, 1.2)),
)


def draw_heights(
    figure: Figure,
    axes: Sequence[Axes],
    columns: Sequence[Column],
    *,
    among: Sequence[Column] = (),
) -> None:
    """Both states of each line above their chord, as they lie on the wafer."""
    row = _row(figure, axes, columns, "above chord", _heights_reach, among)
    for ax, column in zip(axes, columns, strict=True):
        for curves in column.curves:
            if curves.line.pre is None:
                x, z = curves.before.x, curves.before.z
                row.line(ax, x, z, label="before (stated bow)", color=CLAY, linewidth=1.0)
            else:
                row.kept(ax, curves.before, label="before", color=CLAY, width=1.0)
            row.kept(ax, curves.after, label="after", color=SLATE, width=1.5)
            row.masked(ax, curves.before)
            row.masked(ax, curves.after)
        bowl = column.curves[0].line.change.curvature > 0.0
        row.name(ax, [curves.before for curves in column.curves], "before", above=bowl)
        row.name(ax, [curves.after for curves in column.curves], "after", above=not bowl)
        row.note(ax, placement_note(column))


def draw_change(
    figure: Figure,
    axes: Sequence[Axes],
    columns: Sequence[Column],
    *,
    among: Sequence[Column] = (),
) -> None:
    """After minus before, the fitted parabola and its 95 % band."""
    row = _row(figure, axes, columns, "change", _change_reach, among)
    for ax, column in zip(axes, columns, strict=True):
        for curves in column.curves:
            row.kept(ax, curves.change, label=CHANGE, color=MIST, width=2.2)
            row.band(ax, curves.grid, curves.parabola, curves.half_band)
            row.line(
                ax,
                curves.grid,
                curves.parabola,
                label="fitted parabola",
                color=INK,
                linewidth=1.0,
                linestyle=(0, (6, 3)),
                zorder=3.0,
            )
            row.masked(ax, curves.change)
        row.note(ax, masked_note(column))


def draw_residuals(
    figure: Figure,
    axes: Sequence[Axes],
    columns: Sequence[Column],
    *,
    among: Sequence[Column] = (),
) -> None:
    """What the parabola leaves, with a running mean that shows whether it leaves a trend."""
    row = _row(figure, axes, columns, "residual", _residual_reach, among)
    repeated = any(len(column.curves) > 1 for column in columns)
    for ax, column in zip(axes, columns, strict=True):
        for curves in column.curves:
            row.kept(ax, curves.residuals, label=CHANGE, color=MIST, width=0.8)
        ax.axhline(0.0, color=INK, linewidth=0.7, label="_zero")
        for number, curves in enumerate(column.curves):
            row.band(ax, curves.grid, np.zeros(curves.grid.size), curves.half_band)
            row.line(
                ax,
                *_trend(curves.residuals),
                label=_trend_label(number) if repeated else "its running mean",
                color=INK,
                linewidth=1.5,
                linestyle=_DASHES[min(number, len(_DASHES) - 1)],
                zorder=3.0,
            )
            row.masked(ax, curves.residuals)
        row.note(ax, residual_note(column))


def _row(
    figure: Figure,
    axes: Sequence[Axes],
    columns: Sequence[Column],
    title: str,
    shown: Callable[[Curves], list[Floats]],
    among: Sequence[Column],
) -> Row:
    """A row whose height axis is that of all columns ``among`` which its own are looked at."""
    every = among or columns
    return Row(
        figure,
        axes,
        title=title,
        heights=[z for column in every for curves in column.curves for z in shown(curves)],
        overlaid=max(len(column.curves) for column in columns),
    )


def _kept(*curves: Curve) -> list[Floats]:
    return [curve.z[curve.keep] for curve in curves]


def _heights_reach(curves: Curves) -> list[Floats]:
    return _kept(curves.before, curves.after)


def _change_reach(curves: Curves) -> list[Floats]:
    half = _shown_half_band(curves)
    return [*_kept(curves.change), curves.parabola + half, curves.parabola - half]


def _residual_reach(curves: Curves) -> list[Floats]:
    half = _shown_half_band(curves)
    return [*_kept(curves.residuals), half, -half]


def _shown_half_band(curves: Curves) -> Floats:
    """A band far wider than the residuals must not press them flat: it may leave the panel."""
    (left,) = _kept(curves.residuals)
    half: Floats = np.minimum(np.nan_to_num(curves.half_band), 2.0 * np.abs(left).max())
    return half


def _trend(left: Curve) -> tuple[Floats, Floats]:
    share = max(_TREND_WINDOW, _TREND_LEAST / left.x.size)
    return running_mean(
        left.x[left.keep],
        left.z[left.keep],
        width=share * float(left.x[-1] - left.x[0]),
        points=_TREND_PLACES,
    )


def _trend_label(number: int) -> str:
    if number < len(_DASHES) - 1:
        return f"running mean, repeat {number + 1}"
    return f"running mean, repeat {len(_DASHES)} on"
