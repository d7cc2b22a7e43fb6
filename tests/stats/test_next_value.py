"""The next value of a lot to come: prediction intervals under lots that scatter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.budget import Term
from filmstress.stats.budget import combine
from filmstress.stats.coverage import t_factor
from filmstress.stats.next_value import next_value

# Made up: only the formula is checked.
SINGLE = [96.1, 95.3, 97.4, 96.9, 94.8, 96.0]


def test_single_values_give_the_textbook_prediction_interval() -> None:
    """mean ± t(n-1) s sqrt(1 + 1/n): G. J. Hahn and W. Q. Meeker (1991), 4.7."""
    found = next_value([[one] for one in SINGLE])
    n, s = len(SINGLE), np.std(SINGLE, ddof=1)
    assert found.value == pytest.approx(np.mean(SINGLE))
    assert found.u == pytest.approx(s * math.sqrt(1.0 + 1.0 / n))
    assert found.dof == pytest.approx(n - 1)
    assert found.within is None
    assert t_factor(0.95, found.dof) == pytest.approx(stats.t.ppf(0.975, n - 1))


def test_both_parts_as_terms_give_its_degrees_of_freedom_again() -> None:
    found = next_value([[1.0, 1.4, 0.9], [2.0, 2.2], [1.5], [0.4, 0.2, 0.8]])
    terms = [
        Term(input=name, value=0.0, unit="1", u=u, sensitivity=1.0, dof=found.dof_of_either)
        for name, u in (("mean", found.mean_u), ("scatter", found.spread))
    ]
    budget = combine(terms)
    assert budget.u == pytest.approx(found.u)
    assert budget.dof == pytest.approx(found.dof)


def test_equal_groups_agree_with_the_components_of_variance() -> None:
    """u^2 = (MS_between (1 + 1/L) + (n - 1) MS_within) / n, as of the balanced one-way layout."""
    rng = np.random.default_rng(4)
    rows = rng.normal(size=(5, 4)) + rng.normal(size=(5, 1))
    between = 4.0 * rows.mean(axis=1).var(ddof=1)
    inner = rows.var(axis=1, ddof=1).mean()
    found = next_value(list(rows))
    assert found.u**2 == pytest.approx((between * 1.2 + 3.0 * inner) / 4.0)
    assert found.within == pytest.approx(math.sqrt(inner))


@pytest.mark.parametrize(
    ("sizes", "own"), [((3, 3, 3, 3, 3, 3), 0.5), ((1, 6, 2, 4, 1, 3), 1.0), ((1,) * 5, 0.3)]
)
def test_the_interval_holds_the_next_value(sizes: tuple[int, ...], own: float) -> None:
    """Binomial bound: 0.95 within 3.3 sqrt(0.95 0.05 / 1500) = 0.0186, once in 1,000 by chance."""
    rng = np.random.default_rng(8)
    runs, held = 1500, 0
    for _ in range(runs):
        found = next_value([rng.normal() + own * rng.normal(size=n) for n in sizes])
        truth = rng.normal() + own * rng.normal()
        held += abs(truth - found.value) <= t_factor(0.95, found.dof) * found.u
    assert abs(held / runs - 0.95) < 3.3 * math.sqrt(0.95 * 0.05 / runs)


def test_two_groups_are_taken_as_one_degree_of_freedom() -> None:
    assert next_value([[1.0, 1.1, 0.9] * 8, [1.2, 1.1, 1.3] * 8]).dof == 1.0


@pytest.mark.parametrize(
    ("rows", "kind"),
    [
        ([[1.0, 2.0]], RefusedInput),
        ([[1.0], [1.0]], RefusedInput),
        ([[1.0], []], UsageError),
        ([[1.0], [math.nan]], UsageError),
    ],
)
def test_refused(rows: list[list[float]], kind: type[Exception]) -> None:
    with pytest.raises(kind):
        next_value(rows)
