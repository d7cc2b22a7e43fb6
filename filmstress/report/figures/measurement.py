"""The figure of one wafer's measurement, made so that a bad measurement is seen at a glance."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from filmstress.records.result import StressResult
from filmstress.report.figures.along import draw_stress_along
from filmstress.report.figures.budget_bars import draw_budget
from filmstress.report.figures.curves import Column, columns_of, worst_columns
from filmstress.report.figures.heading import LEFT, azimuth_words, draw_heading, draw_results
from filmstress.report.figures.panels import draw_change, draw_heights, draw_residuals
from filmstress.report.figures.style import BODY, PAGE, figure_style

PANELS = ("heights", "change", "residuals")
_TOP, _BOTTOM = 0.77, 0.115
_SPLIT = 0.71
_NARROW = 3
_KEYS_IN_ROW = 7


def draw_measurement(result: StressResult) -> Figure:
    """Draw one wafer's measurement.

    One column of panels per azimuth, repeats over one another: the shapes before and after, their
    difference with the fitted parabola and its 95 % band, what the parabola leaves, and the stress
    along the scan.  Beside them the uncertainty budget and the other results.  Of more than four
    azimuths the four with the largest residuals are drawn, and the figure says so.

    Parameters
    ----------
    result : StressResult
        Refused results and such without a scan before are drawn too.

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    found = columns_of(result.lines)
    columns = worst_columns(found)
    with figure_style():
        figure = Figure(figsize=PAGE)
        below = draw_heading(figure, result, remark=_remark(len(columns), len(found)))
        narrow = len(columns) >= _NARROW
        top = min(_TOP, below - (0.06 if narrow else 0.043))
        single = result.stress or result.force_per_width
        uneven = None if single is None else result.uneven
        names = PANELS if uneven is None else (*PANELS, "stress")
        rows = _panel_axes(figure, columns, names, top=top, narrow=narrow)
        for draw, axes in zip((draw_heights, draw_change, draw_residuals), rows, strict=False):
            draw(figure, axes, columns)
        if uneven is not None and single is not None:
            draw_stress_along(figure, rows[-1], columns, uneven, single)
        _legend(figure, [ax for axes in rows for ax in axes])
        side = figure.add_gridspec(
            2,
            1,
            left=_SPLIT + 0.03,
            right=0.985,
            top=top,
            bottom=_BOTTOM - 0.025,
            height_ratios=(3.1, 2.0),
            hspace=0.12,
        )
        budget_ax, results_ax = figure.add_subplot(side[0]), figure.add_subplot(side[1])
        budget_ax.set_label("budget")
        results_ax.set_label("results")
        draw_budget(budget_ax, result.budget, _budget_unit(result))
        draw_results(results_ax, result)
    return figure


def _remark(drawn: int, found: int) -> str:
    if drawn == found:
        return ""
    return f"  ·  {drawn} of {found} azimuths drawn, those with the largest residuals"


def _budget_unit(result: StressResult) -> str | None:
    if result.refusal is not None:
        return None
    return "N/m" if result.stress is None else "Pa"


def _panel_axes(
    figure: Figure,
    columns: Sequence[Column],
    names: Sequence[str],
    *,
    top: float,
    narrow: bool,
) -> list[list[Axes]]:
    """A row of axes for each name, one per column; a row shares heights, a column positions."""
    grid = figure.add_gridspec(
        len(names),
        len(columns),
        left=LEFT,
        right=_SPLIT,
        top=top,
        bottom=_BOTTOM,
        # Words above narrow panels take up to three lines.
        hspace=(0.118 if narrow else 0.08) * len(names),
        wspace=0.1,
    )
    rows: list[list[Axes]] = []
    for row, name in enumerate(names):
        axes: list[Axes] = []
        for place, column in enumerate(columns):
            ax = figure.add_subplot(grid[row, place], sharex=rows[0][place] if rows else None)
            ax.set_label(f"{name} {azimuth_words(column.azimuth)}")
            ax.tick_params(labelbottom=row == len(names) - 1, labelleft=place == 0)
            axes.append(ax)
        rows.append(axes)
    for ax in rows[-1]:
        ax.set_xlabel("position [mm]" if narrow else "position on the wafer [mm]")
        # In narrow columns the numbers at the ends would run into those of the neighbour.
        ax.xaxis.set_major_locator(
            MaxNLocator(4 if narrow else 9, prune="both" if narrow else None)
        )
    for ax, column in zip(rows[0], columns, strict=True):
        repeats = len(column.curves)
        head = f"{'at' if narrow else 'azimuth'} {azimuth_words(column.azimuth)}"
        head += f", {repeats} repeats" if repeats > 1 else ""
        ax.annotate(
            head,
            (0.0, 1.0),
            (0, 25 if narrow else 15),
            xycoords="axes fraction",
            textcoords="offset points",
            fontsize=BODY,
            fontweight="bold",
            annotation_clip=False,
        )
    return rows


def _legend(figure: Figure, axes: Sequence[Axes]) -> None:
    """One key for all panels, below them, where it can cover no data."""
    handles: dict[str, Artist] = {}
    for ax in axes:
        for handle, label in zip(*ax.get_legend_handles_labels(), strict=True):
            handles.setdefault(str(label), handle)
    rows = math.ceil(len(handles) / _KEYS_IN_ROW)
    figure.legend(
        list(handles.values()),
        list(handles),
        loc="center left",
        ncols=math.ceil(len(handles) / rows),
        frameon=False,
        bbox_to_anchor=(LEFT - 0.01, 0.032),
        columnspacing=1.4,
        handlelength=2.4,
        borderpad=0.0,
    )
