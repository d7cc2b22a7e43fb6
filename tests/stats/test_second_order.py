"""The cheap look at whether the first order will do."""

from __future__ import annotations

import math

import numpy as np
import pytest

from filmstress.records.quantity import Shape
from filmstress.stats.draws import Variate
from filmstress.stats.second_order import _moments, in_doubt
from tests.benchmarks.monte_carlo import foreseen

X, Y = Variate("X"), Variate("Y")


def test_moments_of_a_square_are_those_of_chi_squared() -> None:
    """x^2 of a standard normal: mean 1, variance 2, skewness sqrt(8), excess 12."""
    found = _moments(np.zeros(1), np.array([[2.0]]), np.zeros(1))
    assert found == pytest.approx((1.0, math.sqrt(2.0), math.sqrt(8.0), 12.0))


def test_moments_of_a_shifted_square_are_those_of_the_noncentral_chi_squared() -> None:
    """(x + d)^2 - d^2: noncentral chi-squared with one degree of freedom (textbook cumulants)."""
    d = 1.5
    shift = d * d
    found = _moments(np.array([2.0 * d]), np.array([[2.0]]), np.zeros(1))
    variance = 2.0 * (1.0 + 2.0 * shift)
    want = (
        1.0,
        math.sqrt(variance),
        8.0 * (1.0 + 3.0 * shift) / variance**1.5,
        48.0 * (1.0 + 4.0 * shift) / variance**2,
    )
    assert found == pytest.approx(want)


def test_moments_of_a_product_about_zero() -> None:
    """x y of two standard normals: mean 0, variance 1, skewness 0, excess 6."""
    found = _moments(np.zeros(2), np.array([[0.0, 1.0], [1.0, 0.0]]), np.zeros(2))
    assert found == pytest.approx((0.0, 1.0, 0.0, 6.0))


def test_a_linear_normal_budget_is_not_in_doubt() -> None:
    assert not in_doubt(lambda z: z, [X], low=-1.96, high=1.96, tolerance=0.05)


@pytest.mark.parametrize(
    ("variates", "model"),
    [
        ([Variate("R", shape=Shape.RECTANGULAR)], lambda z: z),
        ([X, Y], lambda z: z[:1] * (1.0 + 0.2 * z[1:])),
        ([X], lambda z: 1.0 / (1.0 + 0.1 * z)),
        ([Variate("T", dof=3.0)], lambda z: z),
    ],
    ids=["limits", "product about zero", "divisor", "few degrees of freedom"],
)
def test_what_is_in_doubt(variates: list[Variate], model: object) -> None:
    turned = 1e-4 * np.eye(len(variates))
    u = float(np.linalg.norm((model(turned) - model(-turned)) / 2e-4))  # type: ignore[operator]
    centre = float(model(np.zeros((len(variates), 1)))[0, 0])  # type: ignore[operator]
    low, high = centre - 1.96 * u, centre + 1.96 * u
    assert in_doubt(model, variates, low=low, high=high, tolerance=0.05 * u)  # type: ignore[arg-type]


def test_it_foresees_where_the_first_order_fails() -> None:
    """A small version of the benchmark: none of its failures, in 1600 budgets, was missed.

    A look that misses 2 in 100 failures would pass with a probability below 0.3.
    """
    counts, _ = foreseen(100, 5)
    assert counts[False, True] == 0
    assert counts[False, False] > 10
