"""Where words stand on the page: none over another, none beyond the edge, none too small."""

import math
import subprocess
import sys
from functools import cache
from typing import Any

import matplotlib
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from filmstress.records.budget import Budget
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.uneven import Relation, StressProfile, UnevenStress
from filmstress.report.figures.measurement import draw_measurement
from filmstress.report.figures.saving import save_figure
from filmstress.report.figures.style import figure_style
from filmstress.stats.coverage import estimate
from tests.report._lines import make_line, make_registration
from tests.report._results import made_of, make_result, notice

CLAMPED = Notice(RefusalCode.CLAMPED, "the wafer was clamped while it was scanned")
DUST = ((-21e-3, 3e-6), (17e-3, -3e-6))
EVERY_WARNING = tuple(notice(code) for code in WarningCode) * 2


def uneven(relation: Relation) -> UnevenStress:
    """Stress along four lines, of a film so compressive that its numbers are long."""
    x = np.linspace(-50e-3, 50e-3, 21)
    value = np.linspace(-1.3e9, -1.0e9, 21)
    profiles = tuple(
        StressProfile(
            azimuth=math.radians(azimuth),
            x=x,
            value=value,
            u=np.full(21, 5e7),
            low=value - 1e8,
            high=value + 1e8,
            unit="Pa",
            resolution=20e-3,
        )
        for azimuth in (0, 45, 90, 135)
    )
    mean = estimate(-1.234e9, "Pa", u=5e7, dof=9.0)
    return UnevenStress(
        relation=relation,
        because="the scan reaches 0.80 of the wafer's radius",
        profiles=profiles,
        neglected=(),
        area_mean=mean,
        difference=estimate(-2e8, "Pa", u=5e7, dof=9.0),
        significant=True,
        matters=True,
        lines=4,
        odd_share=0.0,
        odd_significant=False,
        budget=Budget((), 0.0, math.inf),
    )


def four_lines(relation: Relation) -> Any:
    lines = [
        make_line(
            azimuth_deg=a,
            seed=a,
            dust=DUST,
            change_per_m=-0.1,
            misfit_significant=True,
            established=False,
            smooth_misfit_share=0.1,
            line_period=20e-3,
            registration=make_registration(reversed=True, offset_m=-0.42e-3),
        )
        for a in (0, 45, 90, 135)
    ]
    return make_result(*lines, warnings=EVERY_WARNING, uneven=uneven(relation))


LAYOUTS = {
    "stress along four lines": lambda: four_lines(Relation.AXISYMMETRIC),
    "stress along four lines, by itself": lambda: four_lines(Relation.LOCAL),
    "one line": lambda: make_result(),
    "all warnings, dust, misfit": lambda: make_result(
        make_line(dust=DUST, misfit_significant=True, established=False, smooth_misfit_share=0.1),
        warnings=EVERY_WARNING,
        wafer_id="a very long name of a wafer " * 9,
    ),
    "refused, long": lambda: make_result(
        refusal=Notice(RefusalCode.SUPPORT_UNKNOWN, "the two scans were taken on two supports " * 9)
    ),
    "stated bow": lambda: make_result(make_line(bare=True)),
    "zero": lambda: make_result(make_line(change_per_m=0.0, noise_m=60e-9)),
    "force, zero": lambda: make_result(make_line(change_per_m=0.0), film_m=None, warnings=()),
    "two azimuths, repeats": lambda: make_result(
        *[make_line(azimuth_deg=a, seed=s, dust=DUST) for a in (0, 90) for s in range(3)]
    ),
    "four azimuths, repeats, reversed": lambda: make_result(
        *[
            make_line(
                azimuth_deg=a,
                seed=s,
                dust=DUST,
                registration=make_registration(reversed=True, offset_m=-0.42e-3),
            )
            for a in (0, 45, 90, 135)
            for s in range(2)
        ],
        warnings=EVERY_WARNING,
        terms=made_of(*range(1, 20)),
    ),
    "six azimuths, refused": lambda: make_result(
        *[make_line(azimuth_deg=a, seed=a) for a in range(0, 180, 30)], refusal=CLAMPED
    ),
}


@cache
def laid_out(name: str) -> Figure:
    return draw_measurement(LAYOUTS[name]())


def drawn_texts(figure: Figure) -> list[Text]:
    """Texts that are really painted: without numbers beyond the ends of an axis."""
    hidden = set()
    for ax in figure.axes:
        for axis, ends in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
            for tick in axis.get_major_ticks():
                if not (min(ends) <= tick.get_loc() <= max(ends) and ax.axison):
                    hidden |= {tick.label1, tick.label2}
    return [
        text
        for text in figure.findobj(Text)
        if text.get_text().strip() and text.get_visible() and text not in hidden
    ]


@pytest.mark.parametrize("name", LAYOUTS)
def test_no_word_overlaps_another_or_leaves_the_page(name):
    figure = laid_out(name)
    with figure_style():
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        page = figure.bbox
        boxes = [
            (text.get_text(), text.get_window_extent(canvas.get_renderer()))
            for text in drawn_texts(figure)
        ]
    assert len(boxes) > 30
    for number, (text, box) in enumerate(boxes):
        assert page.x0 <= box.x0, text
        assert page.y0 <= box.y0, text
        assert box.x1 <= page.x1, text
        assert box.y1 <= page.y1, text
        for other, there in boxes[number + 1 :]:
            across = min(box.x1, there.x1) - max(box.x0, there.x0)
            up = min(box.y1, there.y1) - max(box.y0, there.y0)
            # Boxes of texts reach a little beyond the ink.
            assert across <= 1.0 or up <= 3.0, f"{text!r} over {other!r}"


@pytest.mark.parametrize("name", LAYOUTS)
def test_words_above_a_panel_stay_off_its_neighbours(name):
    figure = laid_out(name)
    with figure_style():
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        panels = [ax for ax in figure.axes if ax.axison and ax.get_title(loc="left")]
        for ax in panels:
            note = ax.title if ax.title.get_text() else ax._left_title
            box = note.get_window_extent(canvas.get_renderer())
            for other in panels:
                assert other is ax or not box.overlaps(other.bbox), note.get_text()


@pytest.mark.parametrize("name", LAYOUTS)
def test_no_word_is_too_small_to_read(name):
    figure = laid_out(name)
    # 7 pt of a page 11.69 inches wide is 13 pixels at 1600 pixels across.
    assert min(text.get_fontsize() for text in figure.findobj(Text)) >= 7.0


def test_page_is_a4_landscape():
    assert tuple(draw_measurement(make_result()).get_size_inches()) == (11.69, 8.27)


def test_the_users_own_settings_do_not_show(tmp_path):
    save_figure(draw_measurement(make_result()), tmp_path / "plain.svg")
    loud = {"axes.facecolor": "red", "font.size": 30.0, "text.usetex": True, "svg.hashsalt": "x"}
    with matplotlib.rc_context(loud):
        save_figure(draw_measurement(make_result()), tmp_path / "loud.svg")
        assert {key: matplotlib.rcParams[key] for key in loud} == loud
    assert (tmp_path / "loud.svg").read_bytes() == (tmp_path / "plain.svg").read_bytes()


def test_drawing_needs_no_screen_and_no_pyplot():
    script = (
        "import sys\n"
        "from filmstress.report.figures.measurement import draw_measurement\n"
        "from filmstress.report.figures.saving import save_figure\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    subprocess.run([sys.executable, "-c", script], check=True)
