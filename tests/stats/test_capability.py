"""Capability indices against the handbook, the noncentral t and simulated processes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.stats.capability import Capability, capability, without_measurement


def at(index: float, n: int, *, both: bool, p: float = 0.95, shared_u: float = 0.0) -> Capability:
    """A process of sigma 1 whose distance to the nearer limit is 3 ``index``."""
    lower = -3.0 * index if both else None
    return capability(
        mean=0.0,
        sigma=1.0,
        dof=n - 1,
        count=n,
        lower=lower,
        upper=3.0 * index,
        p=p,
        shared_u=shared_u,
    )


def test_the_example_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6: limits 20 and 8, mean 16, sigma 2: Cp 1.0, Cpk 0.6667."""
    made = capability(mean=16.0, sigma=2.0, dof=50, count=51, lower=8.0, upper=20.0)
    assert made.potential is not None
    assert made.potential.value == pytest.approx(1.0)
    assert made.actual.value == pytest.approx(0.6667, abs=5e-5)


@pytest.mark.parametrize("n", [5, 20, 100])
def test_intervals_against_two_limits(n: int) -> None:
    """Cp by scipy's chi-squared law; Cpk by Bissell's formula (Appl. Statist. 39 (1990) 331)."""
    made = at(1.33, n, both=True)
    assert made.potential is not None
    chi = scipy.stats.chi2(n - 1).ppf([0.025, 0.975])
    assert [made.potential.low, made.potential.high] == pytest.approx(
        1.33 * np.sqrt(chi / (n - 1)), rel=1e-9
    )
    half = 1.959964 * math.sqrt(1.0 / (9.0 * n) + 1.33**2 / (2.0 * (n - 1)))
    assert made.actual.high - 1.33 == pytest.approx(half, rel=1e-6)


@pytest.mark.parametrize(
    ("n", "low", "high", "bound"),
    [
        # Computed for this by inverting the noncentral t of scipy.
        (20, 0.88385, 1.77192, 0.94868),
        (50, 1.05076, 1.60729, 1.09307),
        (100, 1.13333, 1.52565, 1.16369),
    ],
)
def test_intervals_against_one_limit(n: int, low: float, high: float, bound: float) -> None:
    made = at(1.33, n, both=False)
    assert made.potential is None
    assert (made.actual.low, made.actual.high) == pytest.approx((low, high), abs=6e-6)
    assert at(1.33, n, both=False, p=0.90).actual.low == pytest.approx(bound, abs=6e-6)
    # The ends by their definition.
    t = 3.0 * math.sqrt(n) * 1.33
    assert scipy.stats.nct.sf(t, n - 1, 3.0 * math.sqrt(n) * low) == pytest.approx(0.025, abs=1e-5)


def test_an_interval_holds_the_truth_as_often_as_it_says() -> None:
    """One limit, 12 items, true index 1: 2000 samples, 95 % within 4.5 standard errors (0.022)."""
    random = np.random.default_rng(5)
    held = 0
    for row in random.standard_normal((2000, 12)):
        made = capability(
            mean=float(row.mean()), sigma=float(row.std(ddof=1)), dof=11, count=12, lower=-3.0
        )
        held += made.actual.low <= 1.0 <= made.actual.high
    assert abs(held / 2000 - 0.95) < 4.5 * math.sqrt(0.95 * 0.05 / 2000)


@given(
    st.floats(-500, 500),
    st.floats(0.1, 50),
    st.floats(-900, -1),
    st.floats(1, 900),
    st.integers(2, 200),
)
def test_tensile_and_compressive_are_alike(
    mean: float, sigma: float, lower: float, upper: float, n: int
) -> None:
    told = {"sigma": sigma, "dof": float(n - 1), "count": float(n)}
    one = capability(mean=mean, lower=lower, upper=upper, **told)
    other = capability(mean=-mean, lower=-upper, upper=-lower, **told)
    assert one.actual.value == pytest.approx(other.actual.value, rel=1e-12, abs=1e-12)
    assert one.actual.low <= one.actual.value <= one.actual.high
    assert one.potential is not None
    assert one.actual.value <= one.potential.value + 1e-12
    mirror = capability(mean=-mean, lower=-upper, **told)
    single = capability(mean=mean, upper=upper, **told)
    assert single.actual.low == pytest.approx(mirror.actual.low, abs=1e-9)


def test_what_all_items_share_widens_the_interval_only() -> None:
    for both in (True, False):
        alone, shared = at(1.2, 400, both=both), at(1.2, 400, both=both, shared_u=0.6)
        assert shared.actual.value == alone.actual.value
        assert shared.actual.low < alone.actual.low
        assert shared.actual.high > alone.actual.high
        # With many items the shared error is nearly all: 1.96 times u / 3 sigma.
        assert shared.actual.high - 1.2 == pytest.approx(1.96 * 0.2, rel=0.08)


def test_the_measurement_taken_out() -> None:
    """3-4-5: what is left of 5 beside 3 is 4; the variance of the variance stays."""
    found = without_measurement(5.0, 20.0, 3.0)
    assert found is not None
    assert found == pytest.approx((4.0, 20.0 * (16.0 / 25.0) ** 2))
    assert without_measurement(5.0, 20.0, 5.0) is None
    assert without_measurement(5.0, 20.0, 0.0) == (5.0, 20.0)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"sigma": 0.0}, "sigma above 0"),
        ({"mean": math.nan}, "finite"),
        ({"dof": 0.0}, "dof"),
        ({"lower": 5.0}, "wrong way round"),
        ({"upper": None}, "no limit"),
        ({"p": 1.0}, "probability"),
    ],
)
def test_bad_numbers_are_refused(wrong: dict[str, float | None], told: str) -> None:
    right: dict[str, float | None] = {"mean": 0.0, "sigma": 1.0, "dof": 9.0, "count": 10.0}
    with pytest.raises(UsageError, match=told):
        capability(**{**right, "upper": 3.0, **wrong})  # type: ignore[arg-type]
