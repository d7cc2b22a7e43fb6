"""Probability of a range: the studentized range, closed forms of two, and simulated draws."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.records.budget import Budget, Term
from filmstress.stats.budget import combine, merge_shared, scale
from filmstress.stats.joint_range import independent_parts, range_probability


def budget(u: float, dof: float = math.inf) -> Budget:
    return Budget((), u, dof)


def term(name: str, effect: float, common_to: str = "") -> Term:
    return Term(input=name, value=0.0, unit="1", u=1.0, sensitivity=effect, common_to=common_to)


@pytest.mark.parametrize("n", [2, 3, 8, 25, 60])
@pytest.mark.parametrize("limit", [0.5, 2.0, 4.0, 6.0])
def test_equal_quantities_have_the_studentized_range(n: int, limit: float) -> None:
    expected = scipy.stats.studentized_range.cdf(limit, n, np.inf)
    found = range_probability([3.0] * n, [budget(1.0)] * n, limit=limit)
    assert found == pytest.approx(expected, abs=1e-6)


@given(
    gap=st.floats(-20.0, 20.0),
    u=st.tuples(st.floats(0.01, 5.0), st.floats(0.01, 5.0)),
    limit=st.floats(0.1, 20.0),
)
def test_two_quantities_in_closed_form(gap: float, u: tuple[float, float], limit: float) -> None:
    law = scipy.stats.norm(gap, math.hypot(*u))
    found = range_probability([0.0, gap], [budget(u[0]), budget(u[1])], limit=limit)
    assert found == pytest.approx(law.cdf(limit) - law.cdf(-limit), abs=1e-6)


@pytest.mark.parametrize(
    ("values", "us", "dofs", "limit"),
    [
        ([0.0, 1.0, 2.0], [1.0, 0.1, 3.0], [5.0, 3.0, math.inf], 4.0),
        ([0.0, 0.5, 0.9], [0.0, 1e-3, 0.2], [math.inf, 2.0, 9.0], 1.0),
        ([0.0, 10.0], [1.0, 1.0], [4.0, 4.0], 12.0),
        ([-200.0, -190.0, -230.0, -210.0], [4.0, 2.0, 9.0, 1.0], [math.inf] * 4, 35.0),
    ],
)
def test_against_draws(
    values: list[float], us: list[float], dofs: list[float], limit: float
) -> None:
    """A million draws: five binomial standard errors are 2.5e-3 at most."""
    rng, m = np.random.default_rng(42), 1_000_000
    drawn = np.array(
        [
            value + u * (rng.standard_normal(m) if math.isinf(dof) else rng.standard_t(dof, m))
            for value, u, dof in zip(values, us, dofs, strict=True)
        ]
    )
    share = float(np.mean(np.ptp(drawn, axis=0) <= limit))
    budgets = [budget(u, dof) for u, dof in zip(us, dofs, strict=True)]
    found = range_probability(values, budgets, limit=limit)
    assert found == pytest.approx(share, abs=5.0 * math.sqrt(0.25 / m))


@given(
    values=st.lists(st.floats(-50.0, 50.0), min_size=2, max_size=6),
    u=st.floats(0.0, 10.0),
    limit=st.floats(0.5, 60.0),
    shift=st.floats(-1e3, 1e3),
)
def test_a_range_knows_no_zero_no_order_and_no_unit(
    values: list[float], u: float, limit: float, shift: float
) -> None:
    # Without scatter a range right at the limit is a step, on which rounding decides.
    assume(u > 1e-3 or abs(np.ptp(values) - limit) > 1e-6)
    budgets = [budget(u)] * len(values)
    found = range_probability(values, budgets, limit=limit)
    assert 0.0 <= found <= 1.0
    moved = [value + shift for value in reversed(values)]
    assert range_probability(moved, budgets, limit=limit) == pytest.approx(found, abs=1e-6)
    small = [value * 1e-6 for value in values]
    again = range_probability(small, [budget(u * 1e-6)] * len(values), limit=limit * 1e-6)
    assert again == pytest.approx(found, abs=1e-6)
    assert range_probability(values, budgets, limit=2.0 * limit) >= found - 1e-6


def test_without_uncertainty_the_values_decide() -> None:
    exact = [budget(0.0)] * 3
    assert range_probability([0.0, 1.0, 2.0], exact, limit=2.1) == pytest.approx(1.0)
    assert range_probability([0.0, 1.0, 2.0], exact, limit=1.9) == pytest.approx(0.0)


@pytest.mark.parametrize(
    ("values", "limit"), [([1.0], 1.0), ([], 1.0), ([1.0, 2.0], 0.0), ([1.0, 2.0], math.nan)]
)
def test_what_makes_no_range(values: list[float], limit: float) -> None:
    with pytest.raises(UsageError):
        range_probability(values, [budget(1.0)] * len(values), limit=limit)


effects = st.floats(-10.0, 10.0)


@given(own=st.tuples(effects, effects), shared=st.lists(st.tuples(effects, effects), max_size=3))
def test_difference_of_two_is_exact(
    own: tuple[float, float], shared: list[tuple[float, float]]
) -> None:
    """Against the law of propagation on the difference itself."""
    items = [
        [term("own", own[i]), *(term(f"s{j}", pair[i], "lot") for j, pair in enumerate(shared))]
        for i in (0, 1)
    ]
    parts = independent_parts(items)
    direct = combine(merge_shared([*items[0], *scale(items[1], -1.0)]))
    found = math.hypot(*(part.u for part in parts))
    assert found == pytest.approx(direct.u, rel=1e-6, abs=1e-6)


@given(shared=st.lists(effects, min_size=2, max_size=6))
def test_difference_of_any_pair_is_never_too_sure(shared: list[float]) -> None:
    parts = independent_parts([[term("s", effect, "lot")] for effect in shared])
    for i, one in enumerate(shared):
        for j, other in enumerate(shared[:i]):
            bound = math.hypot(parts[i].u, parts[j].u)
            assert bound >= abs(one - other) * (1.0 - 1e-9) - 1e-9


def test_what_all_share_alike_is_no_matter() -> None:
    parts = independent_parts([[term("s", 5.0, "lot"), term("own", 1.0)] for _ in range(4)])
    assert [part.u for part in parts] == pytest.approx([1.0] * 4)
