"""Plans by variables against the noncentral t, and their operating characteristic by draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats

from filmstress.errors import UsageError
from filmstress.stats.sampling import acceptance_probability, variables_plan
from filmstress.stats.tolerance import tolerance_factor


def by_nct(n: int, k: float, nonconforming: float) -> float:
    z = scipy.stats.norm.isf(nonconforming)
    return float(scipy.stats.nct.sf(k * math.sqrt(n), n - 1, z * math.sqrt(n)))


@pytest.mark.parametrize(
    ("acceptable", "producer", "rejectable", "consumer", "n"),
    [
        # Smallest samples by direct search with scipy.stats.nct; by A. Wald and W. A. Wallis's
        # approximation (as given by A. J. Duncan, Quality Control and Industrial Statistics) they
        # are 53.3, 40.2, 19.7, 49.4, 78.0 and 48.1.
        (0.01, 0.05, 0.05, 0.10, 55),
        (0.01, 0.05, 0.06, 0.10, 42),
        (0.01, 0.05, 0.10, 0.10, 21),
        (0.02, 0.05, 0.08, 0.10, 51),
        (0.005, 0.05, 0.03, 0.05, 79),
        (0.05, 0.05, 0.15, 0.075, 49),
    ],
)
def test_the_smallest_plan_keeps_both_risks(
    acceptable: float, producer: float, rejectable: float, consumer: float, n: int
) -> None:
    plan = variables_plan(
        acceptable=acceptable, producer_risk=producer, rejectable=rejectable, consumer_risk=consumer
    )
    assert plan is not None
    assert plan.n == n
    assert by_nct(plan.n, plan.k, rejectable) == pytest.approx(consumer, abs=1e-6)
    assert by_nct(plan.n, plan.k, acceptable) >= 1.0 - producer
    fewer = scipy.stats.nct.ppf(
        1.0 - consumer, n - 2, scipy.stats.norm.isf(rejectable) * math.sqrt(n - 1)
    ) / math.sqrt(n - 1)
    assert by_nct(n - 1, float(fewer), acceptable) < 1.0 - producer


@pytest.mark.parametrize("nonconforming", [0.005, 0.01, 0.05, 0.1])
def test_operating_characteristic_is_the_noncentral_t(nonconforming: float) -> None:
    k = tolerance_factor(10, content=0.9, confidence=0.9, sides=1)
    found = acceptance_probability(
        10, nonconforming=nonconforming, rejectable=0.1, consumer_risk=0.1
    )
    assert found == pytest.approx(by_nct(10, k, nonconforming), abs=1e-6)


@pytest.mark.parametrize(("n", "shared"), [(5, 0.5), (21, 0.3)])
@pytest.mark.parametrize("nonconforming", [0.01, 0.1])
def test_operating_characteristic_with_a_shared_error(
    n: int, shared: float, nonconforming: float
) -> None:
    """40 000 lots: four binomial standard deviations are 0.01 at most."""
    draws = 40_000
    rng = np.random.default_rng([n, int(1000 * nonconforming)])
    scatter = np.sqrt(rng.chisquare(n - 1, draws) / (n - 1))
    mean = shared * rng.standard_normal(draws) + rng.standard_normal(draws) / math.sqrt(n)
    places = np.unique(np.maximum(np.quantile(scatter, np.linspace(0.0, 1.0, 200)), 1e-3))
    factors = [
        at * tolerance_factor(n, content=0.9, confidence=0.9, sides=1, shared=shared / at)
        for at in places
    ]
    accepted = mean + np.interp(scatter, places, factors) <= scipy.stats.norm.isf(nonconforming)
    found = acceptance_probability(
        n, nonconforming=nonconforming, rejectable=0.1, consumer_risk=0.1, shared=shared
    )
    assert found == pytest.approx(float(np.mean(accepted)), abs=0.01)
    if nonconforming == 0.1:
        assert found <= 0.1


def test_no_sample_makes_up_for_a_shared_error() -> None:
    """Beyond z(AQL) - z(LQ) = (1.645 + 1.282) u there is no room left for both risks."""
    asked = {"acceptable": 0.01, "producer_risk": 0.05, "rejectable": 0.1, "consumer_risk": 0.1}
    room = scipy.stats.norm.isf(0.01) - scipy.stats.norm.isf(0.1)
    limit = room / (scipy.stats.norm.isf(0.05) + scipy.stats.norm.isf(0.1))
    inside, outside = (variables_plan(**asked, shared=f * limit) for f in (0.9, 1.1))
    assert inside is not None
    assert inside.n > 21
    assert outside is None


@pytest.mark.parametrize("wrong", [{"acceptable": 0.2}, {"producer_risk": 0.0}], ids=str)
def test_what_makes_no_plan(wrong: dict[str, float]) -> None:
    right = {"acceptable": 0.01, "producer_risk": 0.05, "rejectable": 0.1, "consumer_risk": 0.1}
    with pytest.raises(UsageError):
        variables_plan(**(right | wrong))
