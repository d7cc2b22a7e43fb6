"""Chart constants against closed forms and scipy's studentized range."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad
from scipy.stats import studentized_range

from filmstress.errors import UsageError
from filmstress.stats.control.constants import chart_constants


def test_closed_forms() -> None:
    """Pairs and triples have closed forms (H. A. David, Order Statistics, from memory)."""
    pair, triple = chart_constants(2), chart_constants(3)
    assert pair.d2 == pytest.approx(2.0 / math.sqrt(math.pi), abs=1e-12)
    assert pair.d3 == pytest.approx(math.sqrt(2.0 - 4.0 / math.pi), abs=1e-10)
    assert pair.c4 == pytest.approx(math.sqrt(2.0 / math.pi), abs=1e-14)
    assert triple.d2 == pytest.approx(3.0 / math.sqrt(math.pi), abs=1e-12)


@pytest.mark.parametrize("size", [4, 12, 60])
def test_moments_of_the_range(size: int) -> None:
    """Mean and mean square from scipy's distribution of the range of normal values."""
    law = studentized_range(size, math.inf)
    mean = quad(lambda r: law.sf(r), 0.0, 14.0, epsabs=1e-8)[0]
    square = quad(lambda r: 2.0 * r * law.sf(r), 0.0, 14.0, epsabs=1e-8)[0]
    found = chart_constants(size)
    assert found.d2 == pytest.approx(mean, abs=1e-6)
    assert found.d3 == pytest.approx(math.sqrt(square - mean**2), abs=1e-6)


def test_a_single_observation_has_none() -> None:
    with pytest.raises(UsageError, match="at least 2 observations"):
        chart_constants(1)
