"""Coverage factors against scipy, the finite series of the handbooks and printed tables."""

from __future__ import annotations

import math

import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.stats.coverage import estimate, t_cdf, t_factor, whole_dof

DOF = [1, 2, 3, 4, 5, 7, 10, 19, 50, 199, 200, 201, 1000, 10**4, 10**5, 999_999, 10**6]
PROBABILITIES = [0.01, 0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973, 0.9999, 1 - 1e-7]


@pytest.mark.parametrize("dof", DOF)
def test_factor_equals_scipy(dof: int) -> None:
    for p in PROBABILITIES:
        assert t_factor(p, dof) == pytest.approx(scipy.stats.t.isf((1 - p) / 2, dof), rel=1e-9)


@pytest.mark.parametrize("dof", [0.3, 1.5, 2.75, 16.7519, 123.4, *DOF])
def test_cdf_equals_scipy_with_the_accuracy_of_the_tail(dof: float) -> None:
    for t in (1e-6, 0.01, 0.5, 1.0, 1.7, 1.75, 2.0, 5.0, 12.0, 40.0, 1e4):
        wanted = scipy.stats.t.cdf(-t, dof)
        assert t_cdf(-t, dof) == pytest.approx(wanted, rel=1e-9, abs=1e-300)
        assert t_cdf(t, dof) == pytest.approx(1.0 - wanted, rel=1e-10)


def test_normal_distribution_is_the_limit() -> None:
    for z in (0.0, 0.3, 1.96, 8.0, 37.0):
        assert t_cdf(-z, math.inf) == pytest.approx(scipy.stats.norm.cdf(-z), rel=1e-13)
    for p in PROBABILITIES:
        wanted = scipy.stats.norm.isf((1 - p) / 2)
        assert t_factor(p, math.inf) == pytest.approx(wanted, rel=1e-12)
        assert t_factor(p, 1e6) == pytest.approx(wanted, rel=1e-5)


def finite_series(t: float, dof: int) -> float:
    """P(|T| <= t): Abramowitz and Stegun (1964), 26.7.3 (odd) and 26.7.4 (even)."""
    angle = math.atan2(t, math.sqrt(dof))
    sine, cosine = math.sin(angle), math.cos(angle)
    if dof == 1:
        return 2.0 * angle / math.pi
    term, terms = 1.0, [1.0]
    for k in range(1, (dof - 1) // 2 if dof % 2 else dof // 2):
        term *= cosine**2 * (2 * k / (2 * k + 1) if dof % 2 else (2 * k - 1) / (2 * k))
        terms.append(term)
    total = math.fsum(terms)
    return 2.0 / math.pi * (angle + sine * cosine * total) if dof % 2 else sine * total


@given(t=st.floats(0.0, 50.0), dof=st.integers(1, 400))
def test_cdf_equals_the_finite_series(t: float, dof: int) -> None:
    assert t_cdf(t, dof) - t_cdf(-t, dof) == pytest.approx(finite_series(t, dof), abs=2e-13)


def test_large_dof_against_the_asymptotic_series() -> None:
    """Abramowitz and Stegun (1964), 26.7.5, an expansion about the normal factor."""
    for p in (0.5, 0.6827, 0.95, 0.9973):
        z = scipy.stats.norm.isf((1 - p) / 2)
        for dof in (1e4, 1e5, 1e6):
            wanted = (
                z
                + (z**3 + z) / (4 * dof)
                + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * dof**2)
                + (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * dof**3)
            )
            assert t_factor(p, dof) == pytest.approx(wanted, rel=1e-10)


@pytest.mark.parametrize(
    ("dof", "factors"),
    [  # JCGM 100:2008, Table G.2: 68.27 %, 90 %, 95 %, 95.45 %, 99 %, 99.73 %; from memory
        (1, ("1.84", "6.31", "12.71", "13.97", "63.66", "235.80")),
        (2, ("1.32", "2.92", "4.30", "4.53", "9.92", "19.21")),
        (3, ("1.20", "2.35", "3.18", "3.31", "5.84", "9.22")),
        (5, ("1.11", "2.02", "2.57", "2.65", "4.03", "5.51")),
        (10, ("1.05", "1.81", "2.23", "2.28", "3.17", "3.96")),
        (20, ("1.03", "1.72", "2.09", "2.13", "2.85", "3.42")),
        (50, ("1.01", "1.68", "2.01", "2.05", "2.68", "3.16")),
        (100, ("1.005", "1.660", "1.984", "2.025", "2.626", "3.077")),
        (math.inf, ("1.000", "1.645", "1.960", "2.000", "2.576", "3.000")),
    ],
)
def test_table_of_the_gum(dof: float, factors: tuple[str, ...]) -> None:
    for p, printed in zip((0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973), factors, strict=True):
        # The table's 68.27, 95.45 and 99.73 % are those of 1, 2 and 3 sigma, themselves rounded.
        exact = {0.6827: 1, 0.9545: 2, 0.9973: 3}.get(p)
        p = math.erf(exact / math.sqrt(2)) if exact else p
        digits = len(printed.partition(".")[2])
        assert f"{t_factor(p, dof):.{digits}f}" == printed


@given(p=st.floats(1e-6, 1 - 1e-12), dof=st.floats(1.0, 1e7))
def test_factor_inverts_the_distribution(p: float, dof: float) -> None:
    k = t_factor(p, dof)
    assert 2.0 * t_cdf(-k, dof) == pytest.approx(1.0 - p, rel=1e-8)
    # Fewer degrees of freedom never give a smaller factor, nor does a larger probability.
    assert k >= t_factor(p, math.inf) * (1 - 1e-9)
    assert k >= t_factor(0.9 * p, dof)


@pytest.mark.parametrize(
    ("dof", "whole"),
    [
        (16.7519, 16.0),  # JCGM 100:2008, H.1.6: 16.7 is truncated to 16
        (9.0, 9.0),
        (9.0 - 1e-12, 9.0),
        (8.99, 8.0),
        (1.9, 1.0),
        (0.4, 1.0),
        (1e6, 1e6),
        (2e6, math.inf),
        (math.inf, math.inf),
    ],
)
def test_whole_dof(dof: float, whole: float) -> None:
    assert whole_dof(dof) == whole


def test_estimate() -> None:
    found = estimate(50.0, "Pa", u=2.0, dof=16.75, p=0.99)
    assert (found.value, found.unit, found.u, found.dof, found.p) == (50.0, "Pa", 2.0, 16.0, 0.99)
    assert found.k == pytest.approx(2.920782, rel=1e-6)  # scipy.stats.t.ppf(0.995, 16)
    assert found.low == pytest.approx(50.0 - 2.0 * 2.920782, rel=1e-6)
    assert found.high == pytest.approx(50.0 + 2.0 * 2.920782, rel=1e-6)
    assert found.expanded == pytest.approx(2.0 * 2.920782, rel=1e-6)


def test_estimate_of_an_exact_value_is_a_point() -> None:
    found = estimate(3.0, "m", u=0.0)
    assert (found.low, found.high, found.expanded) == (3.0, 3.0, 0.0)


def test_estimate_with_unknown_uncertainty_knows_nothing_more() -> None:
    found = estimate(3.0, "m", u=None, dof=4)
    assert (found.u, found.k, found.low, found.high, found.expanded) == (None,) * 5


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: t_factor(1.0, 5), "coverage probability of 1.0"),
        (lambda: t_factor(0.0, 5), "between 0 and 1"),
        (lambda: t_factor(math.nan, 5), "coverage probability of nan"),
        (lambda: t_factor(0.95, 0.5), "at least 1 is wanted"),
        (lambda: t_factor(0.95, math.nan), "degrees of freedom of nan"),
        (lambda: t_cdf(1.0, 0.0), "above 0 is wanted"),
        (lambda: t_cdf(math.nan, 3.0), "not a number"),
        (lambda: whole_dof(-1.0), "degrees of freedom of -1.0"),
        (lambda: estimate(1.0, "m", u=-1.0), "uncertainty of -1.0"),
        (lambda: estimate(1.0, "m", u=math.inf), "pass None"),
        (lambda: estimate(1.0, "m", u=None, p=95.0), "write 0.95"),
    ],
)
def test_wrong_calls_say_what_is_wanted(call, words) -> None:
    with pytest.raises(UsageError, match=words):
        call()
