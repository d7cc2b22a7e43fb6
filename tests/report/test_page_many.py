"""A lot too large to be drawn whole: who is drawn, who is folded, and that the page says so."""

from __future__ import annotations

import dataclasses

from filmstress.records.lot import LotResult
from filmstress.records.notice import WarningCode
from filmstress.report.page.choice import ALL_UP_TO, MOST, to_draw
from filmstress.report.page.writing import lot_page
from tests.report._lots import make_lot, measured, named, refused
from tests.report._page import read
from tests.report._results import make_result, notice

FINE = measured()
DOUBTFUL = measured(make_result(warnings=(notice(WarningCode.LOW_MATCH),)))


def moved(stress_pa: float) -> LotResult:
    assert FINE.result is not None
    assert FINE.stress is not None
    stress = dataclasses.replace(FINE.stress, value=stress_pa)
    return dataclasses.replace(FINE, result=dataclasses.replace(FINE.result, stress=stress))


def many(count: int, **others: object) -> LotResult:
    """Fine wafers, of which some places hold others."""
    places = {int(place[1:]): one for place, one in others.items()}
    return make_lot(*(named(places.get(n, FINE), f"W{n}") for n in range(count)))  # type: ignore[arg-type]


def test_a_cassette_is_drawn_whole() -> None:
    choice = to_draw(many(ALL_UP_TO))
    assert choice.drawn == frozenset(range(ALL_UP_TO))
    assert not choice.folded
    assert choice.remark == ""


def test_of_more_wafers_those_to_be_looked_at_and_the_extremes_are_drawn() -> None:
    undecided = dataclasses.replace(FINE, conformance_probability=0.5)
    lot = many(
        60,
        w7=DOUBTFUL,
        w11=undecided,
        w13=moved(90e6),
        w20=refused(),
        w30=moved(120e6),
    )
    choice = to_draw(lot)
    assert choice.drawn == {7, 11, 13, 20, 30}
    assert choice.folded == frozenset(range(60)) - choice.drawn
    assert "these 60 wafers" in choice.remark


def test_if_most_are_to_be_looked_at_the_worst_are_drawn_and_none_is_folded() -> None:
    wafers = [
        named(dataclasses.replace(DOUBTFUL, conformance_probability=1.0 - n / 1000), f"W{n}")
        for n in range(100)
    ]
    choice = to_draw(make_lot(*wafers))
    # All stresses are equal: the first of them stands for both extremes.
    assert choice.drawn - {0, 99} == set(range(100 - MOST, 99))
    assert not choice.folded
    assert f"the {MOST} that conform least" in choice.remark


def test_a_witness_that_holds_zero_is_plainly_fine_and_one_that_does_not_is_drawn() -> None:
    still = measured(make_result(), conforms=None)
    assert still.result is not None
    wafer = dataclasses.replace(still.wafer, role="witness")
    shifted = dataclasses.replace(still, wafer=wafer)
    zero = dataclasses.replace(still.result.stress, value=0.0, low=-1e6, high=1e6)  # type: ignore[type-var]
    unmoved = dataclasses.replace(shifted, result=dataclasses.replace(still.result, stress=zero))
    choice = to_draw(many(50, w3=shifted, w5=unmoved, w9=moved(-1e6)))
    assert 3 in choice.drawn
    assert 5 in choice.folded


def test_three_hundred_wafers_make_a_page_that_can_be_sent() -> None:
    page = lot_page(many(300, w7=DOUBTFUL, w250=refused()), "1")
    assert len(page) < 6_000_000
    tree = read(page)
    assert "Of these 300 wafers only" in tree.text
    assert len(tree.of_class("folded")) == 296  # all but two, the lowest and the highest
    (figure,) = tree.of_class("lot")
    assert len(figure.all("svg")) == 4
    assert {f"W{n}" for n in range(300)} <= {one.text for one in figure.all("text")}
    (table,) = tree.of_class("wafers")
    assert len(table.all("tr")) == 301
    # Every wafer's numbers are there, folded or not.
    assert len(tree.of_class("budget")) == 299
