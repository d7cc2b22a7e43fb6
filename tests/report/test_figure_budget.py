"""The budget's bars: lengths, names, numbers, kinds."""

import math

import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from filmstress.report.figures.measurement import draw_measurement
from tests.report._figure import panel, words
from tests.report._results import made_of, make_result


def bars(figure: Figure) -> dict[str, Patch]:
    ax = panel(figure, "budget")
    return {
        container.get_label(): container.patches[0]
        for container in ax.containers
        if container.get_label() != "_whole"
    }


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
