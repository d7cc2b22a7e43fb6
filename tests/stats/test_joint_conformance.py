"""Several values that share inputs within the same limits: closed forms, and Genz's integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.records.budget import Term
from filmstress.stats.joint_conformance import joint_conformance


def term(name: str, effect: float, common_to: str = "", dof: float = math.inf) -> Term:
    return Term(
        input=name, value=0.0, unit="1", u=1.0, sensitivity=effect, common_to=common_to, dof=dof
    )


values = st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=5)


@given(found=values, u=st.floats(0.05, 3.0), upper=st.floats(-1.0, 4.0))
def test_independent_values_multiply(found: list[float], u: float, upper: float) -> None:
    items = [[term("fit", u, f"wafer {i}")] for i in range(len(found))]
    law = scipy.stats.norm(0.0, u)
    expected = math.prod(law.cdf(upper - v) - law.cdf(-4.0 - v) for v in found)
    p = joint_conformance(found, items, lower=-4.0, upper=upper)
    assert p == pytest.approx(expected, abs=1e-6)


@given(found=values, u=st.floats(0.05, 3.0), upper=st.floats(-1.0, 4.0))
def test_wholly_shared_errors_leave_the_worst_wafer(
    found: list[float], u: float, upper: float
) -> None:
    """What all share moves all: the probability is that of the one nearest to the limit."""
    items = [[term("thickness", u, "lot")] for _ in found]
    expected = scipy.stats.norm(0.0, u).cdf(upper - max(found))
    assert joint_conformance(found, items, upper=upper) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("n", [2, 4, 8])
def test_against_the_multivariate_normal(n: int) -> None:
    """scipy's multivariate normal (A. Genz, 1992), to the 1e-4 that it is good for."""
    rng = np.random.default_rng(n)
    found = rng.normal(scale=0.5, size=n)
    own, shared = rng.uniform(0.3, 1.0, n), rng.uniform(0.5, 1.5, n)
    items = [
        [term("fit", own[i], f"wafer {i}"), term("modulus", shared[i], "table"),
         term("scale", 0.5 * shared[i], "gauge")]
        for i in range(n)
    ]  # fmt: skip
    covariance = np.diag(own**2) + 1.25 * np.outer(shared, shared)
    law = scipy.stats.multivariate_normal(found, covariance, seed=1)
    expected = law.cdf(np.full(n, 2.0), lower_limit=np.full(n, -2.5))
    p = joint_conformance(found.tolist(), items, lower=-2.5, upper=2.0)
    assert p == pytest.approx(float(expected), abs=3e-4)


@pytest.mark.parametrize("seed", range(5))
def test_several_shared_inputs_are_not_overstated(seed: int) -> None:
    """Two causes that do not move the wafers in proportion: never above a million draws' share."""
    rng = np.random.default_rng(seed)
    n, draws = 5, 200_000
    found = rng.normal(scale=0.5, size=n)
    effects = rng.uniform(0.2, 1.0, (n, 2))
    items = [
        [term("fit", 0.3, f"wafer {i}"), term("a", effects[i, 0], "lot"),
         term("b", effects[i, 1], "lot")]
        for i in range(n)
    ]  # fmt: skip
    drawn = found + rng.standard_normal((draws, 2)) @ effects.T
    drawn += 0.3 * rng.standard_normal((draws, n))
    share = float(np.mean(np.all(drawn <= 1.5, axis=1)))
    p = joint_conformance(found.tolist(), items, upper=1.5)
    assert p <= share + 4.0 * math.sqrt(0.25 / draws)
    assert p >= share - 0.05


def test_few_degrees_of_freedom_count() -> None:
    """P(T <= 2.131847) = 0.95 with 4 degrees of freedom (table of t), of two independent ones."""
    items = [[term("fit", 1.0, f"wafer {i}", dof=4.0)] for i in range(2)]
    p = joint_conformance([0.0, 0.0], items, upper=2.131847)
    assert p == pytest.approx(0.95**2, abs=1e-6)


def test_without_uncertainty_the_values_decide() -> None:
    items = [[term("fit", 0.0, "wafer 1")], [term("fit", 0.0, "wafer 2")]]
    assert joint_conformance([1.0, 2.0], items, upper=2.1) == pytest.approx(1.0, abs=1e-9)
    assert joint_conformance([1.0, 2.0], items, upper=1.9) == pytest.approx(0.0, abs=1e-9)


def test_what_makes_no_probability() -> None:
    with pytest.raises(UsageError):
        joint_conformance([], [], upper=1.0)
    with pytest.raises(UsageError):
        joint_conformance([1.0], [[term("fit", 1.0)]])
