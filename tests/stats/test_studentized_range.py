"""The studentized range against scipy and printed tables."""

from __future__ import annotations

import math

import pytest
from scipy.stats import studentized_range

from filmstress.errors import UsageError
from filmstress.stats.coverage import t_factor
from filmstress.stats.studentized_range import range_cdf, range_factor


@pytest.mark.parametrize(
    ("count", "dof", "printed"),
    [
        (3, 1.0, "26.98"),
        (3, 2.0, "8.331"),
        (3, 5.0, "4.602"),
        (3, 10.0, "3.877"),
        (3, 20.0, "3.578"),
        (3, math.inf, "3.314"),
        (5, 10.0, "4.654"),
    ],
)
def test_upper_five_per_cent_points(count: int, dof: float, printed: str) -> None:
    """H. L. Harter, Ann. Math. Stat. 31 (1960) 1122, table 3; from memory."""
    digits = len(printed.partition(".")[2])
    assert f"{range_factor(0.95, count, dof):.{digits}f}" == printed


@pytest.mark.parametrize("count", [2, 3, 7, 40])
@pytest.mark.parametrize("dof", [1.0, 2.3, 11.0, 143.0, 145.0, 3000.0, math.inf])
def test_against_scipy(count: int, dof: float) -> None:
    for q in (0.6, 2.5, 4.2, 8.0):
        assert range_cdf(q, count, dof) == pytest.approx(
            studentized_range.cdf(q, count, dof), abs=1e-8
        )


@pytest.mark.parametrize("count", [2, 3, 6])
@pytest.mark.parametrize("dof", [1.0, 4.7, 60.0, math.inf])
@pytest.mark.parametrize("p", [0.8, 0.95, 0.999])
def test_the_factor_undoes_the_probability(count: int, dof: float, p: float) -> None:
    assert range_cdf(range_factor(p, count, dof), count, dof) == pytest.approx(p, abs=1e-9)


def test_of_two_means_it_is_students_t() -> None:
    """The range of two is their distance, sqrt(2) |t|."""
    for dof in (1.0, 3.5, 30.0, math.inf):
        found = range_factor(0.95, 2, dof)
        assert found == pytest.approx(math.sqrt(2.0) * t_factor(0.95, dof), rel=1e-8)


def test_nothing_lies_below_zero() -> None:
    assert range_cdf(0.0, 3, 5.0) == 0.0


def test_refused() -> None:
    with pytest.raises(UsageError):
        range_factor(1.0, 3, 5.0)
    with pytest.raises(UsageError):
        range_factor(0.95, 3, 0.5)
