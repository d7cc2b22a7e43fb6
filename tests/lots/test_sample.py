"""A lot's sample, its risks and its two means, against other libraries."""

from __future__ import annotations

import math
from dataclasses import replace

import GTC
import numpy as np
import pytest
import scipy.stats

from filmstress.lots.decision import conformance, decide_lot
from filmstress.lots.risk import lot_risk
from filmstress.lots.sample import sample_statement
from filmstress.lots.statistics import lot_statistics
from filmstress.records.lot import (
    LotResult,
    SampleStatement,
    Sampling,
    Specification,
    WaferOutcome,
)
from filmstress.report.lot import lot_text
from filmstress.report.lot_risk import risk_data, sample_data
from tests.lots.outcomes import MPA, lot, outcome, refused, term

SAMPLED = Specification(lower=150 * MPA, upper=250 * MPA, sampling=Sampling(0.9, lot_size=25))
FIVE = (196.0, 203.0, 199.0, 207.0, 195.0)


def wafers(
    values: tuple[float, ...], *, own: float = 1.0, shared: float = 0.0
) -> list[WaferOutcome]:
    terms = [term("film thickness", shared, common_to="lot K7")] if shared else []
    return [
        outcome(f"{number:02}", value, *terms, u_mpa=own)
        for number, value in enumerate(values, start=1)
    ]


def decided(found: list[WaferOutcome], specification: Specification) -> LotResult:
    judged = [conformance(one, specification) for one in found]
    statistics = lot_statistics(judged, specification)
    sample = sample_statement(statistics, specification)
    spec = lot(*found, specification=specification)
    decision, reason, advice = decide_lot(judged, [], spec, sample)
    risk = lot_risk(judged, specification, decision)
    return LotResult(spec, tuple(judged), statistics, (), decision, reason, advice, sample, risk)


def told(result: LotResult) -> str:
    """What the terminal shows, on one line."""
    return " ".join(lot_text(result).split())


def stated(found: list[WaferOutcome], specification: Specification) -> SampleStatement:
    sample = sample_statement(lot_statistics(found, specification), specification)
    assert sample is not None
    return sample


def test_without_sampling_nothing_is_inferred() -> None:
    assert decided(wafers(FIVE), replace(SAMPLED, sampling=None)).sample is None


def test_one_limit_is_the_noncentral_t() -> None:
    """mean 200, s 5 MPa: P(t' <= (230 - 200)/5 sqrt(5)) with z(0.9) sqrt(5), 4 degrees."""
    one_sided = replace(SAMPLED, lower=None, upper=230 * MPA)
    sample = stated(wafers(FIVE), one_sided)
    s, mean = float(np.std(FIVE, ddof=1)), float(np.mean(FIVE))
    z = scipy.stats.norm.ppf(0.9)
    k = (230.0 - mean) / s
    expected = scipy.stats.nct.cdf(k * math.sqrt(5), 4, z * math.sqrt(5))
    assert sample.reached == pytest.approx(float(expected), abs=1e-6)
    factor = scipy.stats.nct.ppf(0.95, 4, z * math.sqrt(5)) / math.sqrt(5)
    assert (sample.low, sample.high) == (None, pytest.approx((mean + factor * s) * MPA, rel=1e-6))


def test_what_wafers_share_widens_the_interval_and_their_own_does_not() -> None:
    """The wafers' own uncertainties are in their scatter already."""
    alone, own, shared = (
        stated(wafers(FIVE, own=o, shared=s), SAMPLED) for o, s in ((1, 0), (3, 0), (1, 8))
    )
    assert (own.low, own.high) == (alone.low, alone.high)
    assert shared.low is not None
    assert alone.low is not None
    assert shared.low < alone.low - 4 * MPA
    assert shared.reached is not None
    assert alone.reached is not None
    assert shared.reached < alone.reached


def test_a_sample_that_does_not_show_it_blocks_acceptance() -> None:
    wide = (182.0, 219.0, 199.0, 208.0, 190.0)
    result = decided(wafers(wide), SAMPLED)
    assert result.decision == "undecided"
    assert result.sample is not None
    assert result.sample.enough is not None
    assert "the 5 wafers measured show only with confidence" in result.reason
    assert f"{result.sample.enough} wafers like these would show it" in result.reason
    # And so many do: the same mean and scatter from more wafers.
    n = result.sample.enough
    for number, shown in ((n, True), (n - 1, False)):
        statistics = replace(result.statistics, measured=number)
        sample = sample_statement(statistics, SAMPLED)
        assert sample is not None
        assert sample.reached is not None
        assert (sample.reached >= 0.95) == shown
    assert decided(wafers(wide), replace(SAMPLED, sampling=None)).decision == "accepted"


def test_a_good_sample_is_accepted() -> None:
    result = decided(wafers(FIVE), SAMPLED)
    assert result.decision == "accepted"
    assert result.sample is not None
    assert result.sample.enough is None
    text = told(result)
    assert "5 wafers of 25 measured" in text
    assert "90 % of all wafers made like them lie between" in text
    data = sample_data(result)
    assert data is not None
    assert data["measured"] == 5
    assert data["confidence_reached"] >= 0.95


def test_all_wafers_of_the_lot_leave_nothing_to_infer() -> None:
    whole = replace(SAMPLED, sampling=Sampling(0.9, lot_size=5))
    result = decided(wafers((182.0, 219.0, 199.0, 208.0, 190.0)), whole)
    assert result.decision == "accepted"
    assert "all 5 wafers of the lot were measured" in told(result)


def test_one_wafer_is_no_sample() -> None:
    result = decided(wafers((200.0,)), SAMPLED)
    assert result.decision == "undecided"
    assert "two wafers or more" in result.reason
    assert "says nothing of the lot" in told(result)


def test_the_plan_behind_an_aql() -> None:
    """AQL 1 % with 5 %, content 90 % with 90 %: 21 wafers (scipy.stats.nct, direct search)."""
    sampling = Sampling(0.9, 0.9, 100, aql=0.01, producer_risk=0.05)
    result = decided(wafers(FIVE), replace(SAMPLED, sampling=sampling))
    assert result.sample is not None
    assert result.sample.planned == 21
    assert result.sample.accepts_aql is not None
    assert result.sample.accepts_aql < 0.95
    assert "21 wafers would with 95 %" in told(result)
    shared = decided(wafers(FIVE, shared=8.0), replace(SAMPLED, sampling=sampling))
    assert shared.sample is not None
    assert shared.sample.planned is None
    assert "no number of wafers" in told(shared)


@pytest.mark.parametrize(
    ("values", "decision"),
    [((200.0, 205.0), "accepted"), ((200.0, 252.0), "rejected"), ((200.0, 249.5), "undecided")],
)
def test_the_risk_of_a_decision(values: tuple[float, ...], decision: str) -> None:
    """Two wafers with their own uncertainties only: the probabilities multiply."""
    limits = Specification(lower=150 * MPA, upper=250 * MPA)
    result = decided(wafers(values), limits)
    assert result.decision == decision
    assert result.risk is not None
    probabilities = [one.conformance_probability for one in result.wafers]
    together = math.prod(p for p in probabilities if p is not None)
    assert result.risk.all_conform == pytest.approx(together, abs=1e-6)
    accepted = pytest.approx(1 - together, abs=1e-6) if decision == "accepted" else None
    rejected = pytest.approx(together, abs=1e-6) if decision == "rejected" else None
    assert (result.risk.consumer, result.risk.producer) == (accepted, rejected)
    data = risk_data(result)
    assert data is not None
    assert data["all_wafers_conform"] == result.risk.all_conform
    word = {"accepted": "consumer's risk", "rejected": "producer's risk"}.get(decision, "risk: all")
    assert word in told(result)


def test_a_shared_error_is_one_risk_and_not_many() -> None:
    """Ten wafers at 1.7 u from a limit: 0.955 if all is shared, 0.955^10 if nothing is."""
    limits = Specification(upper=250 * MPA)
    values = (250.0 - 17.0,) * 10
    shared = decided(wafers(values, own=1e-6, shared=10.0), limits)
    alone = decided(wafers(values, own=10.0), limits)
    p = float(scipy.stats.norm.cdf(1.7))
    assert shared.decision == alone.decision == "accepted"
    assert shared.risk is not None
    assert alone.risk is not None
    assert shared.risk.consumer == pytest.approx(1 - p, abs=1e-5)
    assert alone.risk.consumer == pytest.approx(1 - p**10, abs=1e-5)


def test_no_risk_is_stated_for_wafers_without_a_stress() -> None:
    limits = Specification(upper=250 * MPA)
    assert decided([*wafers(FIVE), refused("99")], limits).risk is None
    assert decided(wafers(FIVE), Specification(spread_max=50 * MPA)).risk is None


def test_the_two_means_against_gtc() -> None:
    """The wafers' mean has their own u/sqrt(n); the process mean their scatter/sqrt(n), t."""
    found = lot_statistics(wafers(FIVE, own=2.0, shared=3.0), SAMPLED)
    shared = GTC.ureal(0.0, 3.0)
    n = len(FIVE)
    mean = sum(GTC.ureal(value, 2.0) + shared for value in FIVE) / n
    assert found.mean is not None
    assert found.process_mean is not None
    assert found.mean.u == pytest.approx(GTC.uncertainty(mean) * MPA)
    assert found.shared_u == pytest.approx(3.0 * MPA)
    s = float(np.std(FIVE, ddof=1))
    process = GTC.ureal(float(np.mean(FIVE)), s / math.sqrt(n), n - 1) + shared
    assert found.process_mean.u == pytest.approx(GTC.uncertainty(process) * MPA)
    assert found.process_mean.dof == math.floor(GTC.dof(process))
    p = scipy.stats.norm(200.0, GTC.uncertainty(mean)).cdf([150.0, 250.0])
    assert found.mean_conformance == pytest.approx(p[1] - p[0], abs=1e-9)
