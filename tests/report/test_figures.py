"""What is drawn: words, values, units, marks and their places; never pixels."""

import math
import subprocess
import sys

import matplotlib
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from scipy import stats

from filmstress.records.budget import Term
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.report.figures.measurement import draw_measurement
from filmstress.report.figures.saving import save_figure
from filmstress.report.figures.style import figure_style
from filmstress.report.words import say_estimate
from tests.report._results import LENGTH_M, make_line, make_registration, make_result

CLAMPED = Notice(RefusalCode.CLAMPED, "the wafer was clamped while it was scanned")
DUST = ((-21e-3, 3e-6), (17e-3, -3e-6))


def notice(code: WarningCode) -> Notice:
    return Notice(code, "words")


def panel(figure: Figure, name: str) -> Axes:
    (found,) = [ax for ax in figure.axes if ax.get_label() == name]
    return found


def panels(figure: Figure, start: str) -> list[Axes]:
    return [ax for ax in figure.axes if str(ax.get_label()).startswith(start)]


def curve(ax: Axes, label: str) -> tuple[np.ndarray, np.ndarray]:
    """The one line of that label, its gaps left out."""
    (line,) = [line for line in ax.lines if line.get_label() == label]
    x, z = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
    there = np.isfinite(z)
    return x[there], z[there]


def marks(ax: Axes, marker: str) -> int:
    return sum(len(line.get_xdata()) for line in ax.lines if line.get_marker() == marker)


def words(figure: Figure) -> str:
    return "\n".join(text.get_text() for text in figure.findobj(Text))


# Words ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change_per_m", "sense"),
    [(3.6e-3, "Tensile:"), (-3.6e-3, "Compressive:"), (0.0, "Not distinguishable from zero:")],
)
def test_headline_says_sense_and_value_as_everywhere(change_per_m, sense):
    result = make_result(make_line(change_per_m=change_per_m))
    headline = draw_measurement(result).texts[0].get_text()
    assert headline.startswith(sense)
    assert f"film stress {say_estimate(result.stress, sign=True)}  (95 %)" in headline


def test_without_film_thickness_the_headline_is_the_force():
    result = make_result(film_m=None)
    figure = draw_measurement(result)
    assert say_estimate(result.force_per_width, sign=True) in figure.texts[0].get_text()
    assert "force per width" in figure.texts[0].get_text()
    assert "film's thickness is not stated" in words(figure)
    assert "MPa" not in words(figure)
    assert "N/m" in words(panel(figure, "budget"))


def test_unknown_uncertainty_is_said():
    result = make_result()
    bare = make_result(
        stress=type(result.stress)(98.3e6, "Pa", None, math.inf, None, 0.95, None, None)
    )
    assert "98.30 MPa, uncertainty not known" in draw_measurement(bare).texts[0].get_text()


def test_refusal_takes_the_place_of_the_stress():
    figure = draw_measurement(make_result(refusal=CLAMPED))
    assert figure.texts[0].get_text() == "No stress is stated"
    assert "clamped: the wafer was clamped while it was scanned" in words(figure)
    # Neither the stress nor what it is made of; shares give nothing away.
    assert "MPa" not in words(figure)
    assert "N/m" not in words(figure)
    assert " %" in words(panel(figure, "budget"))
    assert len(panel(figure, "residuals 0 deg").lines) > 0


def test_warnings_about_the_data_stand_apart_from_assumptions():
    result = make_result(
        warnings=(
            notice(WarningCode.SUPPORT_ASSUMED),
            notice(WarningCode.LOW_MATCH),
            *[notice(WarningCode.DEFAULT_USED)] * 7,
        )
    )
    shown = [text.get_text() for text in draw_measurement(result).texts]
    assert "Look at:  low-match" in shown
    assert "Taken as given:  support-assumed  ·  default-used ×7" in shown


def test_without_warnings_that_is_said():
    assert "No warnings" in words(draw_measurement(make_result(warnings=())))


def test_every_warning_code_can_be_shown():
    every = tuple(notice(code) for code in WarningCode)
    shown = words(draw_measurement(make_result(warnings=every)))
    assert all(code.value in shown for code in WarningCode)


def test_other_results_are_listed():
    result = make_result()
    shown = words(panel(draw_measurement(result), "results"))
    for estimate in (result.stress_stoney, result.curvature_change, result.bow_change):
        assert say_estimate(estimate, sign=True) in shown
    assert "radius of the change" in shown
    assert "bow change, 80 mm" in shown


def test_flat_change_has_no_radius():
    figure = draw_measurement(make_result(make_line(change_per_m=0.0)))
    assert "the interval includes flat" in words(panel(figure, "results"))


def test_names_of_the_user_are_shown_as_they_are():
    figure = draw_measurement(make_result(wafer_id="K7 $x^2$ <b>&\x07 03", material="TiN\n_x"))
    assert "K7 $x^2$ <b>& 03  ·  TiN _x 500 nm on Si(001) 675 um" in words(figure).replace(
        " · ", "  ·  "
    )


# Panels -----------------------------------------------------------------------------------------


def test_axes_carry_units():
    figure = draw_measurement(make_result())
    assert panel(figure, "heights 0 deg").get_ylabel() == "height above chord [um]"
    assert panel(figure, "change 0 deg").get_ylabel() == "change of height [um]"
    assert panel(figure, "residuals 0 deg").get_ylabel() == "residual [nm]"
    assert panel(figure, "residuals 0 deg").get_xlabel() == "position on the wafer [mm]"


def test_small_heights_are_shown_in_nm():
    line = make_line(change_per_m=3e-4, pre_per_m=2e-4, noise_m=2e-9, waviness_m=0.0)
    figure = draw_measurement(make_result(line))
    assert panel(figure, "heights 0 deg").get_ylabel().endswith("[nm]")
    # Sagitta of a parabola, kappa L^2 / 8.
    _, fitted = curve(panel(figure, "change 0 deg"), "fitted parabola")
    assert fitted.min() == pytest.approx(-3e-4 * LENGTH_M**2 / 8 / 1e-9, rel=5e-3)


def test_shapes_stand_on_their_chord_and_show_their_bow():
    line = make_line(change_per_m=4e-3, pre_per_m=-2e-3, noise_m=1e-9, waviness_m=0.0)
    ax = panel(draw_measurement(make_result(line)), "heights 0 deg")
    for label, kappa in (("before", -2e-3), ("after", 2e-3)):
        x, z = curve(ax, label)
        assert x[0] == pytest.approx(-40.0)
        assert x[-1] == pytest.approx(40.0)
        # The tilts of the two scans (10 and 20 um over the half length) are gone.
        assert abs(z[[0, -1]]).max() < 0.01
        assert z[np.argmin(abs(x))] == pytest.approx(-kappa * LENGTH_M**2 / 8 / 1e-6, abs=0.01)


@pytest.mark.parametrize("turned", [False, True])
def test_scan_after_is_drawn_where_registration_laid_it(turned):
    found = make_registration(offset_m=-1.7e-3, reversed=turned)
    line = make_line(noise_m=0.0, waviness_m=100e-9, registration=found, points=801)
    ax = panel(draw_measurement(make_result(line)), "heights 0 deg")
    x, before = curve(ax, "before")
    place, after = curve(ax, "after")
    change = np.interp(x, place, after) - before
    left = change - np.polyval(np.polyfit(x, change, 2), x)
    # The waviness that both share cancels only if both lie at the same place.
    assert abs(left).max() < 0.01 * 0.1


def test_band_is_student_t_times_its_standard_uncertainty():
    line = make_line(points=101)
    figure = draw_measurement(make_result(line))
    (band,) = panel(figure, "residuals 0 deg").collections
    reach = band.get_paths()[0].vertices[:, 1].max()
    k = stats.t.ppf(0.975, line.change.dof)
    assert reach == pytest.approx(k * line.change.band.u.max() / 1e-9, rel=1e-6)


@pytest.mark.parametrize("dof", [math.nan, 0.0])
def test_no_band_where_degrees_of_freedom_are_missing(dof):
    figure = draw_measurement(
        make_result(make_line(dof=dof, established=False), terms=made_of(1.0))
    )
    assert not panel(figure, "residuals 0 deg").collections
    assert "uncertainty not established" in words(panel(figure, "residuals 0 deg"))


def test_a_very_wide_band_does_not_press_the_residuals_flat():
    line = make_line(points=60)
    band = type(line.change.band)(line.change.band.x, line.change.band.z, 1e3 * line.change.band.u)
    ax = panel(draw_measurement(make_result(make_line(points=60, band=band))), "residuals 0 deg")
    _, left = curve(ax, "after minus before")
    assert np.ptp(left) > 0.25 * np.ptp(ax.get_ylim())


def test_residuals_are_what_the_parabola_leaves():
    line = make_line(points=301)
    ax = panel(draw_measurement(make_result(line)), "residuals 0 deg")
    x, left = curve(ax, "after minus before")
    expected = np.polyval(np.polyfit(line.difference.x, line.difference.z, 2), line.difference.x)
    np.testing.assert_allclose(x, line.difference.x / 1e-3)
    np.testing.assert_allclose(left, (line.difference.z - expected) / 1e-9, atol=1e-3)
    assert "rms" in ax.get_title(loc="left")


def test_running_mean_shows_a_trend_that_noise_hides():
    line = make_line(misfit_m=30e-9, noise_m=15e-9, points=8001)
    ax = panel(draw_measurement(make_result(line)), "residuals 0 deg")
    x, mean = curve(ax, "its running mean")
    t = x / 40.0
    # The cubic (Legendre, order 3) that was put in; the parabola takes none of it.  A mean of 320
    # points scatters by 1.2 nm.
    np.testing.assert_allclose(mean[5:-5], 30.0 * (2.5 * t**3 - 1.5 * t)[5:-5], atol=5.5)


def test_misfit_is_named_where_it_is_significant():
    line = make_line(misfit_significant=True, smooth_misfit_share=0.0712)
    ax = panel(draw_measurement(make_result(line)), "residuals 0 deg")
    assert "not a parabola by 7.1 %" in ax.get_title(loc="left")


def test_fitted_wave_is_named():
    line = make_line(line_period=20e-3, line_amplitude=5e-9)
    ax = panel(draw_measurement(make_result(line)), "residuals 0 deg")
    assert "with a wave of 20 mm" in ax.get_title(loc="left")


def test_match_offset_and_reversal_are_said():
    found = make_registration(match=0.934, offset_m=-1.72e-3, reversed=True)
    ax = panel(draw_measurement(make_result(make_line(registration=found))), "heights 0 deg")
    assert ax.get_title(loc="left") == "match 0.93, offset −1.72 mm, reversed"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"determined": False, "offset_m": 0.0, "match": 0.2}, "match 0.20, offset not found"),
        (
            {"determined": False, "offset_m": 0.0, "texture": False},
            "too smooth to be matched, offset not found",
        ),
    ],
)
def test_unknown_placement_is_said(changes, said):
    line = make_line(registration=make_registration(**changes))
    ax = panel(draw_measurement(make_result(line)), "heights 0 deg")
    assert ax.get_title(loc="left") == said


# Masked points ----------------------------------------------------------------------------------


def test_masked_points_are_marked_one_by_one():
    figure = draw_measurement(make_result(make_line(dust=((-5e-3, 0.1e-6), *DUST))))
    change = panel(figure, "change 0 deg")
    assert marks(change, "x") + marks(change, "^") + marks(change, "v") == 9
    # 3 um above and below a change that spans 2.9 um: only the one that stands up leaves the panel.
    assert marks(change, "^") == 3
    assert change.get_title(loc="left") == "9 of 2001 points masked"
    residuals = panel(figure, "residuals 0 deg")
    assert marks(residuals, "^") == marks(residuals, "v") == 3


def test_dust_does_not_stretch_the_panels():
    clean = draw_measurement(make_result(make_line()))
    dusty = draw_measurement(make_result(make_line(dust=((5e-3, 40e-6),))))
    for name in ("heights 0 deg", "change 0 deg", "residuals 0 deg"):
        expected = panel(clean, name).get_ylim()
        assert panel(dusty, name).get_ylim() == pytest.approx(expected, rel=0.02)


def test_marks_of_points_beyond_stand_inside_the_panel_at_their_place():
    ax = panel(draw_measurement(make_result(make_line(dust=((5e-3, 40e-6),)))), "residuals 0 deg")
    (line,) = [line for line in ax.lines if line.get_marker() == "^"]
    low, high = ax.get_ylim()
    assert all(low < y < high for y in line.get_ydata())
    np.testing.assert_allclose(line.get_xdata(), 5.0, atol=0.1)


def test_masked_points_are_not_part_of_the_line():
    ax = panel(draw_measurement(make_result(make_line(dust=DUST))), "change 0 deg")
    (line,) = [line for line in ax.lines if line.get_label() == "after minus before"]
    assert np.isnan(line.get_ydata()).any()
    assert np.nanmax(line.get_ydata()) < 1.0


# Several lines ----------------------------------------------------------------------------------


def test_one_column_per_azimuth_with_common_height_axes():
    lines = [make_line(azimuth_deg=a, change_per_m=k) for a, k in ((90, 4e-3), (0, 3e-3))]
    figure = draw_measurement(make_result(*lines))
    heads = [text.get_text() for ax in panels(figure, "heights") for text in ax.texts]
    assert [head for head in heads if "azimuth" in head] == ["azimuth 0 deg", "azimuth 90 deg"]
    limits = {ax.get_ylim() for ax in panels(figure, "change")}
    assert len(limits) == 1
    assert "along 90 deg" in words(panel(figure, "results"))


def test_repeats_lie_over_one_another_and_differ_by_dash():
    figure = draw_measurement(make_result(*[make_line(seed=seed) for seed in range(3)]))
    ax = panel(figure, "residuals 0 deg")
    trends = [line for line in ax.lines if "running mean" in str(line.get_label())]
    assert len({line.get_linestyle() + str(line._dash_pattern) for line in trends}) == 3
    assert "azimuth 0 deg, 3 repeats" in words(figure)


def test_lines_half_a_turn_apart_are_one_azimuth_seen_from_one_side():
    there = make_line(noise_m=0.0, waviness_m=50e-9, seed=1)
    back = make_line(azimuth_deg=180.0, noise_m=0.0, waviness_m=50e-9, dust=((30e-3, 4e-6),))
    figure = draw_measurement(make_result(there, back))
    assert len(panels(figure, "heights")) == 1
    (line,) = [line for line in panel(figure, "residuals 0 deg").lines if line.get_marker() == "^"]
    np.testing.assert_allclose(line.get_xdata(), -30.0, atol=0.2)


def test_of_many_azimuths_the_worst_four_are_drawn_and_that_is_said():
    noises = {0: 20e-9, 30: 50e-9, 60: 60e-9, 90: 10e-9, 120: 70e-9, 150: 40e-9}
    lines = [make_line(azimuth_deg=a, noise_m=u, waviness_m=0.0) for a, u in noises.items()]
    figure = draw_measurement(make_result(*lines))
    assert [ax.get_label() for ax in panels(figure, "change")] == [
        "change 30 deg",
        "change 60 deg",
        "change 120 deg",
        "change 150 deg",
    ]
    assert "4 of 6 azimuths drawn, those with the largest residuals" in words(figure)


# A stated bow -----------------------------------------------------------------------------------


def test_stated_bow_stands_in_for_the_scan_before():
    line = make_line(bare=True, pre_per_m=1.5e-3, change_per_m=3.6e-3, noise_m=1e-9, waviness_m=0)
    figure = draw_measurement(make_result(line))
    heights = panel(figure, "heights 0 deg")
    _, stated = curve(heights, "before (stated bow)")
    assert stated.min() == pytest.approx(-1.5e-3 * LENGTH_M**2 / 8 / 1e-6, rel=1e-3)
    _, fitted = curve(panel(figure, "change 0 deg"), "fitted parabola")
    assert fitted.min() == pytest.approx(-3.6e-3 * LENGTH_M**2 / 8 / 1e-6, rel=1e-3)
    assert "no scan before" in heights.get_title(loc="left")


# Budget -----------------------------------------------------------------------------------------


def bars(figure: Figure):
    ax = panel(figure, "budget")
    return {
        container.get_label(): container.patches[0]
        for container in ax.containers
        if container.get_label() != "_whole"
    }


def made_of(*contributions: float) -> list[Term]:
    return [
        Term(
            input=f"input {number}",
            value=1.0,
            unit="m",
            u=contribution * 1e6,
            sensitivity=-1.0,
            evaluation="AB"[number % 2],
        )
        for number, contribution in enumerate(contributions)
    ]


def test_budget_bars_are_shares_and_say_them():
    figure = draw_measurement(make_result(terms=made_of(3.0, 4.0)))
    drawn = bars(figure)
    # 3-4-5: 9/25 and 16/25 of the variance.
    assert drawn["input 0"].get_width() == pytest.approx(0.36)
    assert drawn["input 1"].get_width() == pytest.approx(0.64)
    shown = words(panel(figure, "budget"))
    assert "input 0  (A)" in shown
    assert "3.0 MPa   36.0 %" in shown
    assert "input 1  (B)" in shown
    assert "4.0 MPa   64.0 %" in shown


def test_type_a_is_hatched_type_b_is_not():
    drawn = bars(draw_measurement(make_result(terms=made_of(3.0, 4.0))))
    assert drawn["input 0"].get_hatch()
    assert not drawn["input 1"].get_hatch()


def test_small_inputs_are_pooled_and_nothing_is_lost():
    figure = draw_measurement(make_result(terms=made_of(*[1.0] * 16)))
    drawn = bars(figure)
    assert len(drawn) == 8
    assert "9 more inputs" in drawn
    assert math.fsum(bar.get_width() for bar in drawn.values()) == pytest.approx(1.0)
    # Nine of sixteen equal ones: 3/4 of the combined 4 MPa.
    assert "3.0 MPa   56.2 %" in words(panel(figure, "budget"))


def test_no_uncertainty_at_all_is_said():
    figure = draw_measurement(make_result(terms=[]))
    assert "no uncertainty was stated or found" in words(panel(figure, "budget"))


# Layout -----------------------------------------------------------------------------------------

EVERY_WARNING = tuple(notice(code) for code in WarningCode) * 2

LAYOUTS = {
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
    figure = draw_measurement(LAYOUTS[name]())
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
def test_no_word_is_too_small_to_read(name):
    figure = draw_measurement(LAYOUTS[name]())
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
