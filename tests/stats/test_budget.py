"""Budgets against two independent uncertainty libraries, and what must hold for all of them."""

from __future__ import annotations

import math

import GTC
import numpy as np
import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.stats.budget import (
    combine,
    merge_shared,
    most_worth_improving,
    parted,
    required_u,
    scale,
    share_of,
    term,
)


def line(name: str, u: float, sensitivity: float, **more) -> Term:
    return Term(input=name, value=1.0, unit="1", u=u, sensitivity=sensitivity, **more)


# A product formula of powers: s = m h^2 k / (6 t), with values far apart in size.
FACTORS = {
    "m": (180e9, 3.6e9, 1.0, math.inf),
    "h": (675e-6, 2e-6, 2.0, 20.0),
    "k": (0.031, 0.0004, 1.0, 6.0),
    "t": (500e-9, 7e-9, -1.0, 3.0),
}


def product_budget() -> tuple[float, Budget]:
    m, h, k, t = (FACTORS[name][0] for name in "mhkt")
    value = m * h**2 * k / (6 * t)
    terms = [
        Term(input=name, value=x, unit="1", u=u, sensitivity=power * value / x, dof=dof)
        for name, (x, u, power, dof) in FACTORS.items()
    ]
    return value, combine(terms)


def test_product_formula_equals_uncertainties() -> None:
    m, h, k, t = (uncertainties.ufloat(*FACTORS[name][:2]) for name in "mhkt")
    theirs = m * h**2 * k / (6 * t)
    value, budget = product_budget()
    assert value == pytest.approx(theirs.nominal_value, rel=1e-14)
    assert budget.u == pytest.approx(theirs.std_dev, rel=1e-12)
    components = theirs.error_components()
    for name, variable in zip("mhkt", (m, h, k, t), strict=True):
        share = (components[variable] / theirs.std_dev) ** 2
        assert share_of(budget, name) == pytest.approx(share, rel=1e-12)


def test_product_formula_equals_gtc_with_degrees_of_freedom() -> None:
    m, h, k, t = (GTC.ureal(x, u, df=dof) for x, u, _, dof in (FACTORS[name] for name in "mhkt"))
    theirs = m * h**2 * k / (6 * t)
    _, budget = product_budget()
    assert budget.u == pytest.approx(theirs.u, rel=1e-12)
    assert budget.dof == pytest.approx(theirs.df, rel=1e-10)


terms_strategy = st.lists(
    st.tuples(
        st.floats(0.0, 1e3), st.floats(-1e3, 1e3), st.one_of(st.just(math.inf), st.floats(1, 1e4))
    ),
    min_size=1,
    max_size=8,
)


def terms_of(rows: list[tuple[float, float, float]]) -> list[Term]:
    return [line(f"x{i}", u, c, dof=dof) for i, (u, c, dof) in enumerate(rows)]


@given(rows=terms_strategy)
@settings(deadline=None)
def test_independent_terms_equal_gtc(rows: list[tuple[float, float, float]]) -> None:
    budget = combine(terms_of(rows))
    total = sum(c * GTC.ureal(1.0, u, df=dof) for u, c, dof in rows)
    assert budget.u == pytest.approx(GTC.uncertainty(total), rel=1e-9, abs=1e-12)
    if budget.u > 1e-6:
        assert budget.dof == pytest.approx(GTC.dof(total), rel=1e-6)


@given(rows=terms_strategy)
def test_shares_and_order(rows: list[tuple[float, float, float]]) -> None:
    budget = combine(terms_of(rows))
    shares = [row.share for row in budget.rows]
    assert len(shares) == len(rows)
    assert shares == sorted(shares, reverse=True)
    assert min(shares) >= 0.0
    assert math.fsum(shares) == pytest.approx(1.0 if budget.u > 0.0 else 0.0)
    # Welch and Satterthwaite lie between the fewest and the sum (JCGM 100:2008, G.4.1).
    dofs = [row.term.dof for row in budget.rows if row.term.contribution > 0.0]
    if dofs:
        assert min(dofs) * (1 - 1e-9) <= budget.dof <= math.fsum(dofs) * (1 + 1e-9)


@given(rows=terms_strategy, factor=st.floats(-1e6, 1e6).filter(lambda f: abs(f) > 1e-6))
def test_scaling_the_output_scales_u_alone(rows, factor: float) -> None:
    plain, scaled = combine(terms_of(rows)), combine(scale(terms_of(rows), factor))
    assert scaled.u == pytest.approx(abs(factor) * plain.u, rel=1e-12)
    assert scaled.dof == pytest.approx(plain.dof, rel=1e-9)
    assert [row.share for row in scaled.rows] == pytest.approx([row.share for row in plain.rows])


@given(size=st.integers(2, 6), seed=st.integers(0, 2**32 - 1))
@settings(deadline=None)
def test_correlated_terms_equal_uncertainties(size: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(size, size))
    covariance = root @ root.T
    u = np.sqrt(np.diag(covariance))
    slopes = rng.normal(size=size)
    theirs = np.dot(slopes, uncertainties.correlated_values(np.zeros(size), covariance))
    ours = combine(
        [line(f"x{i}", float(u[i]), float(slopes[i])) for i in range(size)],
        {
            (f"x{i}", f"x{j}"): float(np.clip(covariance[i, j] / (u[i] * u[j]), -1.0, 1.0))
            for i in range(size)
            for j in range(i)
        },
    )
    assert ours.u == pytest.approx(theirs.std_dev, rel=1e-6)
    assert math.fsum(row.share for row in ours.rows) == pytest.approx(1.0)
    assert ours.dof == math.inf


def test_full_correlation_adds_and_cancels() -> None:
    pair = [line("a", 3.0, 1.0), line("b", 4.0, 1.0)]
    assert combine(pair, {("a", "b"): 1.0}).u == pytest.approx(7.0)
    assert combine(pair, {("b", "a"): -1.0}).u == pytest.approx(1.0)
    equal = combine([line("a", 3.0, 1.0), line("b", 3.0, -1.0)], {("a", "b"): 1.0})
    assert (equal.u, equal.dof, {row.share for row in equal.rows}) == (0.0, math.inf, {0.0})


def test_correlated_inputs_of_one_fit_keep_its_degrees_of_freedom() -> None:
    """Beside an independent term, the fit's pair counts as one (GTC treats an ensemble alike)."""
    a, b = GTC.multiple_ureal([1.0, 1.0], [2.0, 1.0], 7, label_seq=["a", "b"])
    GTC.set_correlation(-0.6, a, b)
    theirs = a + 3 * b + GTC.ureal(1.0, 1.5, df=4)
    ours = combine(
        [line("a", 2.0, 1.0, dof=7), line("b", 1.0, 3.0, dof=7), line("c", 1.5, 1.0, dof=4)],
        {("a", "b"): -0.6},
    )
    assert ours.u == pytest.approx(theirs.u, rel=1e-12)
    assert ours.dof == pytest.approx(theirs.df, rel=1e-10)


def test_no_uncertainty_at_all() -> None:
    for terms in ([], [line("a", 0.0, 2.0), line("b", 1.0, 0.0)]):
        budget = combine(terms)
        assert (budget.u, budget.dof, len(budget.rows)) == (0.0, math.inf, len(terms))
        assert all(row.share == 0.0 for row in budget.rows)
        assert most_worth_improving(budget) is None


def test_sizes_whose_squares_leave_double_precision() -> None:
    assert combine([line("a", 3e-200, 1.0), line("b", 4e-200, 1.0)]).u == pytest.approx(5e-200)
    assert combine([line("a", 3e200, 1.0), line("b", 4e200, 1.0)]).u == pytest.approx(5e200)


def items(count: int) -> list[list[Term]]:
    """One product formula per item: k and h its own, m and t shared in different ways."""
    shared = {"common_to": "table"}
    return [
        [
            line("m", 0.02, 1.0 + 0.1 * i, **shared),
            line("t", 0.05, -1.0, common_to=f"batch {i % 2}"),
            line("h", 0.01, 2.0),
            line("k", 0.03, 1.0, dof=5),
        ]
        for i in range(count)
    ]


@pytest.mark.parametrize("weights", [[0.25] * 4, [0.5, -0.5, 0.5, -0.5], [1.0, 0.0, 0.0, -1.0]])
def test_means_and_differences_of_shared_inputs_equal_uncertainties(weights: list[float]) -> None:
    terms = [
        one for item, weight in zip(items(4), weights, strict=True) for one in scale(item, weight)
    ]
    ours = combine(merge_shared(terms))
    m = uncertainties.ufloat(1.0, 0.02)
    batches = [uncertainties.ufloat(1.0, 0.05) for _ in range(2)]
    theirs = sum(
        weight
        * (
            (1.0 + 0.1 * i) * m
            - batches[i % 2]
            + 2 * uncertainties.ufloat(1.0, 0.01)
            + uncertainties.ufloat(1.0, 0.03)
        )
        for i, weight in enumerate(weights)
    )
    assert ours.u == pytest.approx(theirs.std_dev, rel=1e-12)
    assert combine(terms).u != pytest.approx(theirs.std_dev, rel=1e-3)


def test_merge_keeps_what_is_not_shared() -> None:
    terms = [line("a", 1.0, 1.0), line("a", 1.0, 1.0), line("b", 1.0, 1.0, common_to="x")]
    assert merge_shared(terms) == tuple(terms)
    # Same thing shared, stated with another u: the signed contributions add.
    one, two = line("g", 2.0, 1.0, common_to="x"), line("g", 1.0, 3.0, common_to="x", dof=4)
    (joined,) = merge_shared([one, two])
    assert (joined.contribution, joined.dof, joined.u) == (5.0, 4.0, 2.0)
    exact = line("g", 0.0, 9.0, common_to="x")
    assert merge_shared([exact, two])[0].contribution == 3.0
    assert merge_shared([two, exact])[0].contribution == 3.0


def test_most_worth_improving_and_what_it_takes() -> None:
    _, budget = product_budget()
    worst = most_worth_improving(budget)
    assert worst is not None
    assert worst.term.input == "m"
    target = 0.9 * budget.u
    wanted = required_u(budget, "m", target_u=target)
    assert wanted is not None
    better = [
        row.term
        if row.term.input != "m"
        else Term(input="m", value=1.0, unit="1", u=wanted, sensitivity=row.term.sensitivity)
        for row in budget.rows
    ]
    assert combine(better).u == pytest.approx(target, rel=1e-12)
    assert required_u(budget, "m", target_u=budget.u) == pytest.approx(FACTORS["m"][1], rel=1e-9)
    assert required_u(budget, "h", target_u=0.1 * budget.u) is None


def test_term_of_a_stated_input() -> None:
    stated = Measured(2.0, "m", 0.1, dof=9, shape=Shape.RECTANGULAR, source=Source.DEFAULT)
    made = term("thickness", stated, -3.0, common_to="lot")
    assert made == Term(
        input="thickness",
        value=2.0,
        unit="m",
        u=0.1,
        sensitivity=-3.0,
        dof=9,
        shape=Shape.RECTANGULAR,
        evaluation="B",
        common_to="lot",
        source=Source.DEFAULT,
    )
    assert made.contribution == pytest.approx(0.3)
    with pytest.raises(UsageError, match=r"thickness: its uncertainty is neither stated"):
        term("thickness", Measured(2.0, "m"), 1.0)


@pytest.mark.parametrize(
    ("terms", "correlations", "words"),
    [
        ([line("a", -1.0, 1.0)], None, r"a: standard uncertainty -1.0"),
        ([line("a", math.nan, 1.0)], None, "finite numbers"),
        ([line("a", 1.0, math.inf)], None, "sensitivity inf"),
        ([line("a", 1.0, 1.0, dof=0.0)], None, r"a: degrees of freedom of 0.0"),
        ([line("a", 1.0, 1.0)], {("a", "b"): 0.1}, r"b: .* stands 0 times"),
        ([line("a", 1.0, 1.0)] * 2 + [line("b", 1.0, 1.0)], {("a", "b"): 0.1}, "stands 2 times"),
        ([line("a", 1.0, 1.0), line("b", 1.0, 1.0)], {("a", "b"): 1.1}, "a and b: .* 1.1 came"),
        ([line("a", 1.0, 1.0)], {("a", "a"): 0.5}, "two different inputs"),
        (
            [line(name, 1.0, 1.0) for name in "abc"],
            {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9},
            "contradict each other",
        ),
    ],
)
def test_wrong_calls_say_what_is_wanted(terms, correlations, words) -> None:
    with pytest.raises(UsageError, match=words):
        combine(terms, correlations)


def test_required_u_names_the_inputs_there_are() -> None:
    with pytest.raises(UsageError, match=r"z: it stands 0 times .*\n  the inputs are: h, k, m, t"):
        required_u(product_budget()[1], "z", target_u=1.0)


parts = st.dictionaries(st.sampled_from(["c11", "c12", "c44"]), st.floats(-5.0, 5.0), min_size=3)


@given(one=parts, other=parts, factor=st.floats(-3.0, 3.0))
def test_a_row_of_several_inputs_keeps_their_signs(
    one: dict[str, float], other: dict[str, float], factor: float
) -> None:
    """The difference of two outputs, against the difference of each input's own effect."""

    def row(effects: dict[str, float]) -> Term:
        return Term(
            input="modulus",
            value=180e9,
            unit="Pa",
            u=1e9,
            sensitivity=math.hypot(*effects.values()) / 1e9,
            common_to="table",
            parts=tuple(effects.items()),
        )

    joined = [row(one), *scale([row(other)], factor)]
    expected = math.hypot(*(one[name] + factor * other[name] for name in one))
    assert combine(merge_shared(joined)).u == pytest.approx(expected, abs=1e-9)
    apart = merge_shared(parted(joined))
    assert {term.input for term in apart} == {f"modulus, {name}" for name in one}
    assert combine(apart).u == pytest.approx(expected, abs=1e-9)


def test_parts_that_only_one_of_two_terms_has() -> None:
    """Effects of independent causes add in quadrature (GUM 5.1.2): 3 and 4 give 5."""
    one = line("modulus", 1.0, 3.0, common_to="table", parts=(("c11", 3.0),))
    other = line("modulus", 1.0, 4.0, common_to="table", parts=(("c12", 4.0),))
    (joined,) = merge_shared([one, other])
    assert joined.contribution == pytest.approx(5.0, rel=1e-12)
    assert dict(joined.parts) == {"c11": 3.0, "c12": 4.0}
