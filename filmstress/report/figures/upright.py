"""One azimuth in a narrow, upright figure: for a page that is read on a phone as well."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from filmstress.report.figures.curves import Column
from filmstress.report.figures.panels import draw_change, draw_heights, draw_residuals
from filmstress.report.figures.row import beside
from filmstress.report.figures.style import BODY, figure_style

# As wide as a phone's page, so that its type is never shown smaller than it is set [inch].
_SIZE = (3.25, 5.1)
_LABEL_PLACE = 0.052
_PANELS = (
    (draw_heights, "heights", "Shape before and after"),
    (draw_change, "change", "Change, and its parabola"),
    (draw_residuals, "residuals", "What the parabola leaves"),
)


def draw_upright(column: Column, among: Sequence[Column]) -> Figure:
    """Draw one azimuth's three panels over one another.

    Parameters
    ----------
    column : Column
        Repeats of one azimuth.
    among : sequence of Column
        All azimuths that will be looked at side by side: they get the same height axes.

    Returns
    -------
    matplotlib.figure.Figure
        Without any word of the user's in it.
    """
    with figure_style():
        figure = Figure(figsize=_SIZE)
        grid = figure.add_gridspec(
            3, 1, left=0.19, right=0.985, top=0.955, bottom=0.082, hspace=0.27
        )
        first = None
        for place, (draw, name, title) in enumerate(_PANELS):
            ax = figure.add_subplot(grid[place], sharex=first)
            first = first or ax
            ax.set_label(name)
            ax.tick_params(labelbottom=place == len(_PANELS) - 1)
            draw(figure, [ax], [column], among=among)
            ax.yaxis.set_label_coords(_LABEL_PLACE, 0.5, transform=beside(figure, ax))
            ax.set_title(title, loc="left", fontsize=BODY, fontweight="bold", pad=4.0)
        ax.set_xlabel("position on the wafer [mm]")
        ax.xaxis.set_major_locator(MaxNLocator(6))
    return figure
