"""Control charts as a picture: every line has its name, and the limits of two kinds stay apart."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes

from filmstress.charting.charts import ChartKind, RecipeChart, chart_recipe
from filmstress.report.figures.chart import draw_chart
from filmstress.report.figures.style import CLAY
from tests.charting._series import series
from tests.report._figure import curve, panel, words

MEANS = [-201e6, -199e6, -203e6, -201e6, -197e6, -199e6] * 4 + [-189e6, -186e6]
LOTS = [[x - 2e6, x + 2e6, x + (i % 3) * 1e6] for i, x in enumerate(MEANS)]


def made(kind: ChartKind | None = None, **limits: float) -> RecipeChart:
    found = chart_recipe(series(LOTS, **limits), kind=kind, baseline="24")
    assert isinstance(found, RecipeChart)
    return found


def texts(ax: Axes) -> str:
    return "\n".join(text.get_text() for text in ax.texts)


def test_points_limits_and_signals_are_drawn() -> None:
    chart = made(lower=-220e6)
    figure = draw_chart(chart)
    ax = panel(figure, "individuals")
    _, drawn = curve(ax, "points")
    assert drawn == pytest.approx(np.mean(LOTS, axis=1) / 1e6)
    (marked,) = [line for line in ax.lines if line.get_label() == "part of a signal"]
    assert marked.get_markeredgecolor() == CLAY
    assert list(marked.get_xdata()) == [24, 25]
    for name in ("upper control limit", "centre line", "lower control limit"):
        assert name in texts(ax)
    assert "since lot A25, 2026-03-25: mean of a lot above the upper control limit" in words(figure)
    assert [one.get_label() for one in figure.axes] == [
        "individuals",
        "moving range",
        "standard deviations",
    ]


def test_specification_and_control_limits_differ_in_line_and_word() -> None:
    ax = panel(draw_chart(made(lower=-220e6, upper=-170e6)), "individuals")
    control = [line for line in ax.lines if line.get_drawstyle() == "steps-mid"]
    told = {line.get_label(): line for line in control}
    assert {"lower specification", "upper specification"} <= set(told)
    specification = told["lower specification"]
    assert set(specification.get_ydata()) == {-220.0}
    others = [line for line in control if "specification" not in str(line.get_label())]
    assert len(others) == 2
    for line in others:
        assert line.get_linewidth() < specification.get_linewidth()
        assert line._unscaled_dash_pattern != specification._unscaled_dash_pattern
    assert "lower specification −220 MPa" in texts(ax)


def test_a_far_specification_is_said_and_does_not_flatten_the_chart() -> None:
    figure = draw_chart(made(upper=900e6))
    ax = panel(figure, "individuals")
    assert ax.get_ylim()[1] < 0.0
    assert "at most +900 MPa, in part outside this picture" in texts(ax)


def test_bars_show_the_measurement() -> None:
    ax = panel(draw_chart(made()), "individuals")
    x, ends = curve(ax, "differs between lots")
    assert len(x) == 2 * len(MEANS)
    # 1 MPa of each of three wafers, 1.96 times: of the mean 1.13 to each side.
    assert ends[1::2] - ends[::2] == pytest.approx(2.0 * 1.96 / 3.0**0.5, rel=1e-3)
    assert curve(ax, "measurement")[1] == pytest.approx(ends)


@pytest.mark.parametrize("kind", list(ChartKind))
def test_names_at_the_right_do_not_overlap(kind: ChartKind) -> None:
    figure = draw_chart(made(kind, lower=-206e6, upper=-195e6))
    assert kind is ChartKind.CUSUM or "specification" in words(figure)
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    page = figure.bbox
    for ax in figure.axes:
        boxes = [
            text.get_window_extent(canvas.get_renderer())
            for text in ax.texts
            if text.get_text() != "baseline" and "picture" not in text.get_text()
        ]
        for i, one in enumerate(boxes):
            assert one.x1 < page.x1
            assert not any(one.overlaps(other) for other in boxes[:i])
