"""Draws: their distributions, and that a seed fixes them however they are asked for."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats

from filmstress.errors import UsageError
from filmstress.records.quantity import Shape
from filmstress.stats.draws import Draws, Variate, correlated

ROOT3, ROOT6 = math.sqrt(3.0), math.sqrt(6.0)
SHAPES = [
    (Variate("n"), scipy.stats.norm()),
    (Variate("t", dof=5.5), scipy.stats.t(5.5)),
    (Variate("r", shape=Shape.RECTANGULAR), scipy.stats.uniform(-ROOT3, 2 * ROOT3)),
    (Variate("tri", shape=Shape.TRIANGULAR), scipy.stats.triang(0.5, -ROOT6, 2 * ROOT6)),
]


@pytest.mark.parametrize(("variate", "want"), SHAPES, ids=lambda one: getattr(one, "input", ""))
def test_distribution(variate: Variate, want: scipy.stats.rv_continuous) -> None:
    (drawn,) = Draws([variate], 3).next(20_000)
    # A correct program fails one such test in a thousand; the seed is fixed.
    assert scipy.stats.kstest(drawn, want.cdf).pvalue > 1e-3
    assert variate.variance == pytest.approx(want.var())
    assert variate.excess == pytest.approx(want.stats("k"))


def test_exact_inputs_do_not_move() -> None:
    assert not Draws([Variate("e", shape=Shape.EXACT)], 3).next(10).any()


def test_draws_do_not_depend_on_how_many_come_at_a_time() -> None:
    variates = [variate for variate, _ in SHAPES]
    whole = Draws(variates, 5).next(1000)
    parts = Draws(variates, 5)
    assert np.array_equal(whole, np.hstack([parts.next(n) for n in (1, 99, 400, 500)]))


def test_an_input_keeps_its_draws_among_others() -> None:
    alone = Draws([Variate("film thickness", "lot K7")], 5).next(50)[0]
    among = Draws([Variate("x"), Variate("film thickness", "lot K7")], 5).next(50)[1]
    other = Draws([Variate("film thickness", "lot K8")], 5).next(50)[0]
    assert np.array_equal(alone, among)
    assert not np.any(alone == other)
    assert not np.any(alone == Draws([Variate("film thickness", "lot K7")], 6).next(50)[0])


def test_one_quantity_is_drawn_once() -> None:
    with pytest.raises(UsageError, match="stands twice"):
        Draws([Variate("h"), Variate("h")], 0)


@pytest.mark.parametrize("r", [-1.0, 0.3, 1.0])
def test_correlation(r: float) -> None:
    drawn = Draws([Variate("a"), Variate("b")], 1).next(40_000)
    found = np.cov(correlated(drawn, [[1.0, r], [r, 1.0]]))
    # Five standard deviations of a covariance of this many.
    assert found == pytest.approx(np.array([[1.0, r], [r, 1.0]]), abs=5 * math.sqrt(2 / 40_000))


def test_impossible_correlations() -> None:
    with pytest.raises(UsageError, match="contradict"):
        correlated(np.zeros((3, 1)), [[1, 0.9, 0.9], [0.9, 1, -0.9], [0.9, -0.9, 1]])
