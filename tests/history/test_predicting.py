"""A recipe's next wafer, told from its recorded lots."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from filmstress.errors import HistoryError
from filmstress.history.entry import kept_lot
from filmstress.history.predicting import next_wafer
from filmstress.history.questions import Choice
from filmstress.history.selecting import select
from filmstress.history.store import History, open_history
from filmstress.history.writing import keep, keep_many
from filmstress.records.history import KeptLot
from filmstress.records.stack import RecipeAsked
from filmstress.stats.coverage import estimate
from tests.history.made import document, lot

RECIPES = 400
LOTS, WAFERS = 5, 3
MEAN, OF_LOTS, OF_WAFERS, OF_GAUGE = -2e8, 8e6, 5e6, 6e6


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    opened = open_history(str(tmp_path / "history.sqlite"), create=True)
    yield opened
    opened.close()


def _drawn(rng: np.random.Generator, recipe: str, gauge: float) -> Iterator[KeptLot]:
    """Lots of a recipe as one gauge sees them, off by ``gauge`` throughout."""
    for number in range(LOTS):
        stresses = MEAN + OF_LOTS * rng.normal() + OF_WAFERS * rng.normal(size=WAFERS) + gauge
        made = document(f"{recipe}-{number}", recipe, stresses=tuple(stresses))
        for wafer in made["wafers"]:
            # The made row is 0.5 % of 200 MPa, 1 MPa.
            wafer["budget"][0]["standard_uncertainty"] = 0.005 * OF_GAUGE / 1e6
        yield kept_lot(made, recorded_at=f"2026-04-01T09:00:0{number}Z")


def test_the_interval_holds_the_next_wafer(history: History) -> None:
    """Lots are kept through the one door, and one more wafer of one more lot is drawn.

    Binomial bound: 0.95 within 3.3 sqrt(0.95 0.05 / 400) = 0.036, once in 1,000 by chance.
    """
    rng = np.random.default_rng(12)
    names = [f"r{number}" for number in range(RECIPES)]
    keep_many(
        history, (one for name in names for one in _drawn(rng, name, OF_GAUGE * rng.normal()))
    )
    held = 0
    for name in names:
        told = next_wafer(history, RecipeAsked(name))
        assert (told.wafers, len(told.lots)) == (LOTS * WAFERS, LOTS)
        interval = estimate(told.stress.value, "Pa", u=told.stress.u, dof=told.stress.dof)
        truth = MEAN + OF_LOTS * rng.normal() + OF_WAFERS * rng.normal()
        held += (interval.low or 0.0) <= truth <= (interval.high or 0.0)
    assert abs(held / RECIPES - 0.95) < 3.3 * math.sqrt(0.95 * 0.05 / RECIPES)


def test_what_all_share_is_a_row_of_its_own(history: History) -> None:
    rng = np.random.default_rng(3)
    keep_many(history, _drawn(rng, "nitride", 0.0))
    told = next_wafer(history, RecipeAsked("nitride"))
    (gauge,) = [one for one in told.terms if one.common_to == "gauge"]
    assert gauge.contribution == pytest.approx(OF_GAUGE)
    # What only the wafers have (their thickness) shows in their scatter.
    assert {one.common_to for one in told.terms} == {"gauge", "history of nitride", ""}


def test_the_film_is_taken_along(history: History) -> None:
    for number in (1, 2):
        keep(history, lot(number, lot=f"A{number}", stresses=(-2e8, -2.1e8 - 1e6 * number)))
    film = next_wafer(history, RecipeAsked("nitride")).film
    assert film["thickness"].value == pytest.approx(5e-7)
    assert film["thickness"].u == pytest.approx(5e-9)
    assert "modulus" not in film


def test_thicknesses_that_scatter_foretell_one_more(history: History) -> None:
    """Interval for one further value, t(n - 1) s sqrt(1 + 1/n), beside what each is uncertain by.

    G. J. Hahn and W. Q. Meeker, Statistical Intervals (1991), 4.7.
    """
    thick = (4.9e-7, 5.0e-7, 5.1e-7, 5.2e-7)
    for number in (1, 2):
        told = document(f"A{number}", stresses=(-2e8, -2.1e8 - 1e6 * number))
        for wafer, value in zip(told["wafers"], thick[2 * number - 2 :], strict=False):
            wafer["inputs"]["film"]["thickness"]["value"] = value
        keep(history, kept_lot(told, recorded_at=f"2026-04-01T09:00:0{number}Z"))
    film = next_wafer(history, RecipeAsked("nitride")).film["thickness"]
    of_scatter = np.var(thick, ddof=1) * (1.0 + 1.0 / len(thick))
    assert film.u == pytest.approx(math.sqrt(of_scatter + 5e-9**2))
    assert film.dof == pytest.approx((1.0 + 5e-9**2 / of_scatter) ** 2 * 3.0)


def test_witnesses_are_passed_over(history: History) -> None:
    for number in (1, 2):
        made = document(f"A{number}", stresses=(-2e8, -2.1e8 - 1e6 * number, 0.0))
        made["wafers"][2]["inputs"]["role"] = "witness"
        keep(history, kept_lot(made, recorded_at=f"2026-04-01T09:00:0{number}Z"))
    told = next_wafer(history, RecipeAsked("nitride"))
    assert told.wafers == 4
    assert told.stress.value == pytest.approx(-2.0575e8)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (RecipeAsked("nitrid"), "did you mean 'nitride'"),
        (RecipeAsked("nitride", lots=("A1",)), "has one lot there, 'A1'"),
        (RecipeAsked("nitride", lots=("A1", "B2")), "has no lot 'B2'"),
        (RecipeAsked("nitride", since="2030-01-01"), "in the time asked for"),
        (RecipeAsked("alike"), "exactly alike"),
        (RecipeAsked("bare"), "no wafer of 'bare' carries a stress"),
    ],
)
def test_refused(history: History, asked: RecipeAsked, words: str) -> None:
    keep(history, lot(1, lot="A1"))
    keep(history, lot(2, lot="A2"))
    keep(history, lot(3, lot="C1", recipe="alike", stresses=(-2e8,)))
    keep(history, lot(4, lot="C2", recipe="alike", stresses=(-2e8,)))
    made = document("D1", "bare", stresses=(-2e8,))
    made["wafers"][0]["stress"] = None
    keep(history, kept_lot(made, recorded_at="2026-04-01T09:00:00Z"))
    with pytest.raises(HistoryError) as caught:
        next_wafer(history, asked)
    assert words in str(caught.value)


def test_a_selection_passes_over_witnesses(history: History) -> None:
    """A bare wafer's zero is no stress of the recipe, and no part of its lots' means."""
    for number in (1, 2):
        made = document(f"A{number}", f"recipe {number}", stresses=(-2e8, -2.1e8, 0.0))
        made["wafers"][2]["inputs"]["role"] = "witness"
        keep(history, kept_lot(made, recorded_at=f"2026-04-01T09:00:0{number}Z"))
    chosen = select(history, ["recipe 1", "recipe 2"], Choice())
    assert [len(one.values) for one in chosen] == [2, 2]
