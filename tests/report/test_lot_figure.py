"""The figure of a lot: every wafer against the limits, told apart without colour."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from filmstress.records.lot import Specification
from filmstress.report.figures.lot import MOST_ROWS, draw_lot, draw_lot_parts
from filmstress.report.figures.saving import save_figure
from tests.report._figure import words
from tests.report._lots import make_lot, measured, named, refused

GOOD = measured()


def marks(ax: Axes) -> dict[int, Line2D]:
    """The mark of each row."""
    return {
        round(float(line.get_ydata()[0])): line  # type: ignore[arg-type,index]
        for line in ax.lines
        if len(line.get_xdata()) == 1  # type: ignore[arg-type]
    }


def test_each_wafer_stands_at_its_stress_on_its_interval() -> None:
    lot = make_lot(GOOD, named(GOOD, "02"))
    (ax,) = draw_lot(lot).axes
    assert [label.get_text() for label in ax.get_yticklabels()] == ["wafer 01", "02"]
    stress = GOOD.stress
    assert stress is not None
    for row, mark in marks(ax).items():
        assert mark.get_xdata()[0] == stress.value / 1e6  # type: ignore[index]
        (ends,) = [
            line.get_xdata()
            for line in ax.lines
            if list(line.get_ydata()) == [row, row] and line.get_marker() == "|"  # type: ignore[arg-type]
        ]
        np.testing.assert_allclose(ends, [stress.low / 1e6, stress.high / 1e6])  # type: ignore[operator]
    low, high = ax.get_xlim()
    assert low < 60.0 < 140.0 < high  # the limits are seen
    assert "below 60 MPa and above 140 MPa" in words(ax.figure)  # type: ignore[arg-type]


def test_the_marks_are_told_apart_by_shape() -> None:
    witness = named(GOOD, "04", conformance_probability=None)
    witness = dataclasses.replace(witness, wafer=dataclasses.replace(witness.wafer, role="witness"))
    lot = make_lot(
        GOOD,
        named(GOOD, "02", conformance_probability=0.5),
        named(GOOD, "03", conformance_probability=0.01),
        witness,
        refused("05"),
    )
    figure = draw_lot(lot)
    looks = {
        (line.get_marker(), str(line.get_markerfacecolor()))
        for line in marks(figure.axes[0]).values()
    }
    assert len(looks) == 4
    assert 4 not in marks(figure.axes[0])
    told = words(figure)
    for word in ("refused", "within the limits", "undecided", "outside the limits", "witness"):
        assert word in told


def test_many_wafers_are_dealt_to_columns_of_one_axis() -> None:
    count = 2 * MOST_ROWS + 7
    lot = make_lot(*(named(GOOD, f"W{n}") for n in range(count)))
    for axes in (draw_lot(lot).axes, [figure.axes[0] for figure in draw_lot_parts(lot)]):
        assert len(axes) == 3
        names = [label.get_text() for ax in axes for label in ax.get_yticklabels()]
        assert names == [f"W{n}" for n in range(count)]
        assert len({ax.get_xlim() for ax in axes}) == 1


def test_one_limit_and_none() -> None:
    for specification, told in (
        (Specification(lower=60e6), "hatched: below 60 MPa"),
        (Specification(upper=140e6), "hatched: above 140 MPa"),
    ):
        assert told in words(draw_lot(make_lot(GOOD, specification=specification)))
    bare = draw_lot(make_lot(measured(conforms=None), decision=None, specification=None))
    assert "hatched" not in words(bare)
    assert "No decision: lot K7" in words(bare).replace("  ", " ")


def test_a_lot_without_any_stress_is_drawn_as_such() -> None:
    lot = make_lot(refused("01"), measured(film_m=None, conforms=None), decision="undecided")
    told = words(draw_lot(lot))
    assert "refused" in told
    assert "no film thickness, no stress" in told


@pytest.mark.parametrize("kind", ["svg", "pdf"])
def test_the_same_lot_gives_the_same_bytes(tmp_path: Path, kind: str) -> None:
    for name in ("one", "two"):
        save_figure(draw_lot(make_lot(GOOD, refused())), tmp_path / f"{name}.{kind}")
    assert (tmp_path / f"one.{kind}").read_bytes() == (tmp_path / f"two.{kind}").read_bytes()
