"""One azimuth in a narrow, upright figure: for a page that is read on a phone as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.records.uneven import UnevenStress
from filmstress.report.figures.along import draw_stress_along
from filmstress.report.figures.curves import Column
from filmstress.report.figures.panels import draw_change, draw_heights, draw_residuals
from filmstress.report.figures.row import beside
from filmstress.report.figures.style import BODY, figure_style

# As wide as a phone's page, so that its type is never shown smaller than it is set [inch].
_WIDTH = 3.25
_PANEL, _ABOVE, _BELOW = 1.6, 0.23, 0.42
_LABEL_PLACE = 0.052
_PANELS = (
    (draw_heights, "heights", "Shape before and after"),
    (draw_change, "change", "Change, and its parabola"),
    (draw_residuals, "residuals", "What the parabola leaves"),
)


@dataclass(frozen=True, slots=True, eq=False)
class Along:
    """The stress along the scans, and the single number that it is looked at beside."""

    uneven: UnevenStress
    single: Estimate


def along_of(result: StressResult) -> Along | None:
    """What there is to be drawn of the stress along a result's scans."""
    single = result.stress or result.force_per_width
    if single is None or result.uneven is None:
        return None
    return Along(result.uneven, single)


def draw_upright(column: Column, among: Sequence[Column], along: Along | None = None) -> Figure:
    """Draw one azimuth's panels over one another.

    Parameters
    ----------
    column : Column
        Repeats of one azimuth.
    among : sequence of Column
        All azimuths that will be looked at side by side: they get the same height axes.
    along : Along, optional
        Adds a panel of the stress along the scan.

    Returns
    -------
    matplotlib.figure.Figure
        Without any word of the user's in it.
    """
    panels = len(_PANELS) + (along is not None)
    height = _ABOVE + _BELOW + panels * _PANEL
    with figure_style():
        figure = Figure(figsize=(_WIDTH, height))
        grid = figure.add_gridspec(
            panels,
            1,
            left=0.19,
            right=0.985,
            top=1.0 - _ABOVE / height,
            bottom=_BELOW / height,
            hspace=0.27,
        )
        first = None
        for place in range(panels):
            ax = figure.add_subplot(grid[place], sharex=first)
            first = first or ax
            ax.tick_params(labelbottom=place == panels - 1)
            name, title = "stress", "Stress along the scan"
            if place < len(_PANELS):
                draw, name, title = _PANELS[place]
                draw(figure, [ax], [column], among=among)
            elif along is not None:
                draw_stress_along(figure, [ax], [column], along.uneven, along.single, among=among)
            ax.set_label(name)
            ax.yaxis.set_label_coords(_LABEL_PLACE, 0.5, transform=beside(figure, ax))
            ax.set_title(title, loc="left", fontsize=BODY, fontweight="bold", pad=4.0)
        ax.set_xlabel("position on the wafer [mm]")
        ax.xaxis.set_major_locator(MaxNLocator(6))
    return figure
