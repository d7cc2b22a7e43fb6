"""What is drawn: words, values, units, marks and their places; never pixels."""

import math

import numpy as np
import pytest
from scipy import stats

from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.report.figures.measurement import draw_measurement
from filmstress.report.words import say_estimate
from tests.report._figure import curve, marks, panel, panels, words
from tests.report._lines import LENGTH_M, make_line, make_registration
from tests.report._results import made_of, make_result, notice

CLAMPED = Notice(RefusalCode.CLAMPED, "the wafer was clamped while it was scanned")
DUST = ((-21e-3, 3e-6), (17e-3, -3e-6))


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
    assert panel(figure, "heights 0 deg").get_ylabel() == "above chord [um]"
    assert panel(figure, "change 0 deg").get_ylabel() == "change [um]"
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
    assert "wave of 20 mm" in ax.get_title(loc="left")


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
