"""Lots drawn from a known process are not decided wrongly more often than is stated.

The small version of `tests.benchmarks.lot_risk`.
"""

from __future__ import annotations

import math

import pytest

from tests.benchmarks.lot_risk import CASES, Case, accepted_at_the_limit, run, sample_shown

LOTS = 400


def bound(p: float, lots: int = LOTS) -> float:
    """Four binomial standard deviations above p: passed once in 30 000 by a share of just p."""
    return p + 4.0 * math.sqrt(p * (1.0 - p) / lots)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_consumers_risk_is_the_one_stated(case: Case) -> None:
    found = run(case, lots=LOTS)
    assert found.accepted > 0.1
    accepted = round(found.accepted * LOTS)
    assert found.wafer_out <= bound(0.05, accepted)
    assert found.lot_out <= bound(max(found.stated, 1e-3), accepted)
    # The producer's risk comes true where nothing is known of the process, as the rule takes it;
    # wafers known to lie close together would speak for one another.
    if case.wafers == 1:
        rejected = round(found.rejected * LOTS)
        assert found.lot_good <= bound(max(found.stated_reject, 1e-3), rejected)


@pytest.mark.parametrize("case", [CASES[0], CASES[3], CASES[5]], ids=lambda case: case.name)
def test_the_worst_process_is_accepted_as_seldom_as_promised(case: Case) -> None:
    share = accepted_at_the_limit(case, lots=2 * LOTS)
    assert share <= bound(0.05, 2 * LOTS)
    if case.wafers == 1:
        # One wafer on the limit uses up what is allowed: P(y < limit - 1.645 u) = 0.05.
        assert share >= 0.05 - 4.0 * math.sqrt(0.05 * 0.95 / (2 * LOTS))


def test_a_sample_seldom_shows_what_is_not_so() -> None:
    assert sample_shown(lots=LOTS) <= bound(0.05)
