"""Conformance: printed factors, scipy's distributions and integrals, simulated decisions."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.integrate
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.stats.conformance import (
    Decision,
    acceptance_interval,
    conformance_probability,
    decide,
    global_risks,
    guard_band,
)

dofs = st.one_of(st.just(math.inf), st.integers(1, 200).map(float))


@pytest.mark.parametrize(
    ("probability", "factor"),
    # JCGM 106:2012, Table 1 (from memory): (T_U - y)/u for a given probability of conformance.
    [(0.80, "0.84"), (0.90, "1.28"), (0.95, "1.64"), (0.99, "2.33"), (0.999, "3.09")],
)
def test_one_sided_table(probability: float, factor: str) -> None:
    assert f"{guard_band(1.0, confidence=probability):.2f}" == factor
    found = conformance_probability(0.0, u=1.0, upper=guard_band(1.0, confidence=probability))
    assert found == pytest.approx(probability, rel=1e-12)


@given(
    value=st.floats(-20.0, 20.0),
    width=st.floats(0.01, 20.0),
    u=st.floats(0.05, 5.0),
    dof=dofs,
)
def test_probability_equals_scipy(value: float, width: float, u: float, dof: float) -> None:
    """Against scipy.stats (scaled t, or normal), two-sided and one-sided."""
    law = scipy.stats.norm(value, u) if math.isinf(dof) else scipy.stats.t(dof, value, u)
    for lower, upper in ((-width, width), (None, width), (-width, None)):
        low = 0.0 if lower is None else law.cdf(lower)
        high = 0.0 if upper is None else law.sf(upper)
        found = conformance_probability(value, u=u, dof=dof, lower=lower, upper=upper)
        assert found == pytest.approx(1.0 - low - high, abs=1e-10)


@given(value=st.floats(-30.0, 30.0), u=st.floats(0.1, 3.0), dof=dofs)
def test_mirror_and_complement(value: float, u: float, dof: float) -> None:
    both = conformance_probability(value, u=u, dof=dof, lower=-1.0, upper=2.0)
    mirrored = conformance_probability(-value, u=u, dof=dof, lower=-2.0, upper=1.0)
    assert both == pytest.approx(mirrored, rel=1e-12, abs=0.0)
    below = conformance_probability(value, u=u, dof=dof, upper=-1.0)
    above = conformance_probability(value, u=u, dof=dof, lower=2.0)
    assert below + both + above == pytest.approx(1.0, abs=1e-12)


def test_small_probabilities_keep_their_digits() -> None:
    """Far outside, the difference of two tails: 10 to 11 u away, against scipy.stats."""
    found = conformance_probability(-10.0, u=1.0, lower=0.0, upper=1.0)
    assert found == pytest.approx(scipy.stats.norm.sf(10) - scipy.stats.norm.sf(11), rel=1e-12)
    assert found == pytest.approx(
        conformance_probability(11.0, u=1.0, lower=0.0, upper=1.0), rel=1e-12
    )


def test_without_uncertainty_the_limits_decide_and_count_as_inside() -> None:
    for value, probability in ((0.0, 1.0), (1.0, 1.0), (1.0 + 1e-12, 0.0), (-0.1, 0.0)):
        assert conformance_probability(value, u=0.0, lower=0.0, upper=1.0) == probability


def test_few_degrees_of_freedom_make_it_less_sure() -> None:
    sure, doubtful = (
        conformance_probability(-1.0, u=0.4, dof=dof, lower=-2.0, upper=0.0)
        for dof in (math.inf, 3.0)
    )
    assert doubtful < sure
    # 1 - 2 P(T > 2.5), scipy.stats.t with 3 degrees of freedom.
    assert doubtful == pytest.approx(1.0 - 2.0 * scipy.stats.t.sf(2.5, 3), rel=1e-12)


@pytest.mark.parametrize(
    ("probability", "decision"),
    [
        (1.0, "accepted"),
        (0.95, "accepted"),
        (0.9499999, "undecided"),
        (0.5, "undecided"),
        (0.0500001, "undecided"),
        (0.05, "rejected"),
        (0.0, "rejected"),
    ],
)
def test_decide(probability: float, decision: str) -> None:
    assert decide(probability) == decision
    assert isinstance(decide(probability), Decision)


def test_more_confidence_wanted_leaves_more_undecided() -> None:
    assert decide(0.95, 0.99) == decide(0.05, 0.99) == "undecided"
    assert decide(0.99, 0.99) == "accepted"
    assert decide(0.01, 0.99) == "rejected"


@given(u=st.floats(0.01, 30.0), dof=dofs, confidence=st.floats(0.6, 0.999), at=st.floats(0, 1))
def test_acceptance_interval_is_where_values_are_accepted(
    u: float, dof: float, confidence: float, at: float
) -> None:
    lower, upper = -3.0, 5.0
    interval = acceptance_interval(u=u, dof=dof, lower=lower, upper=upper, confidence=confidence)

    def accepted(value: float) -> bool:
        chance = conformance_probability(value, u=u, dof=dof, lower=lower, upper=upper)
        return decide(chance, confidence) is Decision.ACCEPTED

    if interval is None:
        assert not accepted(lower + at * (upper - lower))
        return
    low, high = interval
    assert low is not None
    assert high is not None
    assert low + high == pytest.approx(lower + upper)
    width = high - low
    assume(width > 1e-3)
    assert accepted(low + (1e-9 + at * (1 - 2e-9)) * width)
    assert not accepted(low - 1e-6)
    assert not accepted(high + 1e-6)
    # Both tails count: never wider than each limit's own guard band leaves.
    assert high <= upper - guard_band(u, dof=dof, confidence=confidence) + 1e-9


def test_acceptance_interval_one_sided_and_exact() -> None:
    low, high = acceptance_interval(u=2.0, upper=10.0)
    assert low is None
    assert high == pytest.approx(10.0 - 2.0 * 1.6449, abs=1e-4)  # ISO 14253-1: g = 1.65 u
    low, high = acceptance_interval(u=2.0, dof=4, lower=10.0)
    assert high is None
    assert low == pytest.approx(10.0 + 2.0 * scipy.stats.t.ppf(0.95, 4), rel=1e-9)
    assert acceptance_interval(u=0.0, lower=1.0, upper=2.0) == pytest.approx((1.0, 2.0))
    assert acceptance_interval(u=10.0, lower=1.0, upper=2.0) is None


def quad_risks(mean, sd, u, spec, gate) -> tuple[float, float]:
    """The defining integrals, each piece by adaptive quadrature (scipy.integrate.quad)."""
    norm = scipy.stats.norm

    def accepted(y: float) -> float:
        return norm.cdf((gate[1] - y) / u) - norm.cdf((gate[0] - y) / u)

    def integral(f, a, b) -> float:
        inner = [x for x in (*gate, mean) if a < x < b]
        edges = [a, *inner, b]
        return sum(
            scipy.integrate.quad(
                lambda y: norm.pdf(y, mean, sd) * f(y), p, q, epsabs=1e-14, limit=200
            )[0]
            for p, q in zip(sorted(edges), sorted(edges)[1:], strict=False)
        )

    far = 12 * (sd + u)
    outside = integral(accepted, mean - far, spec[0]) + integral(accepted, spec[1], mean + far)
    return outside, integral(lambda y: 1 - accepted(y), *spec)


CASES = [
    # process mean, process sd, u, specification, guard band, consumer's and producer's risk
    (1500.0, 0.12, 0.04, (1499.8, 1500.2), 0.0, 0.0189422067, 0.0372078002),
    (1500.0, 0.12, 0.04, (1499.8, 1500.2), 0.02, 0.0098782915, 0.0690265105),
    (1500.0, 0.12, 0.04, (1499.8, 1500.2), 0.04, 0.0043340722, 0.1146565784),
    (1500.0, 0.12, 0.04, (1499.8, 1500.2), 0.08, 0.0004686336, 0.2476696402),
    (-50.0, 45.0, 10.0, (-150.0, 50.0), 0.0, 0.0044784658, 0.0082697423),
    (-50.0, 45.0, 10.0, (-150.0, 50.0), 10.0, 0.0010117506, 0.0256372626),
    (-50.0, 45.0, 10.0, (-150.0, 50.0), 16.449, 0.0002628450, 0.0439072839),
    (-50.0, 45.0, 10.0, (-150.0, 50.0), 20.0, 0.0001085252, 0.0565024859),
]


@pytest.mark.parametrize(("mean", "sd", "u", "spec", "guard", "consumer", "producer"), CASES)
def test_global_risks(mean, sd, u, spec, guard, consumer, producer) -> None:
    """Ten digits from the integrals by adaptive quadrature, which are also evaluated here."""
    gate = (spec[0] + guard, spec[1] - guard)
    found = global_risks(
        process_mean=mean,
        process_sd=sd,
        u=u,
        lower=spec[0],
        upper=spec[1],
        accept_low=gate[0],
        accept_high=gate[1],
    )
    assert found.consumer == pytest.approx(consumer, abs=1.01e-10)
    assert found.producer == pytest.approx(producer, abs=1.01e-10)
    integrals = quad_risks(mean, sd, u, spec, gate)
    assert (found.consumer, found.producer) == pytest.approx(integrals, abs=1e-11)


@pytest.mark.parametrize("u", [1e-3, 0.03, 0.3, 1.0, 30.0])
@pytest.mark.parametrize(("limit", "gate"), [(1.0, 0.7), (-2.0, -2.0), (0.0, 1.5)])
def test_one_sided_global_risks_equal_a_bivariate_normal(u, limit, gate) -> None:
    """True and measured value are jointly normal: P(X > limit, Y <= gate), scipy.stats."""
    found = global_risks(process_mean=0.0, process_sd=1.0, u=u, upper=limit, accept_high=gate)
    total = math.hypot(1.0, u)
    joint = scipy.stats.multivariate_normal(cov=[[1.0, 1.0 / total], [1.0 / total, 1.0]])
    both = joint.cdf([limit, gate / total])
    accepted, within = scipy.stats.norm.cdf([gate / total, limit])
    assert found.consumer == pytest.approx(accepted - both, abs=1e-9)
    assert found.producer == pytest.approx(within - both, abs=1e-9)


def test_global_risks_equal_simulated_decisions() -> None:
    """A million items drawn and measured; four binomial standard deviations are allowed."""
    rng = np.random.default_rng(8)
    n = 1_000_000
    true = rng.normal(-50.0, 45.0, n)
    measured = true + rng.normal(0.0, 10.0, n)
    within = (true >= -150.0) & (true <= 50.0)
    accepted = (measured >= -140.0) & (measured <= 40.0)
    found = global_risks(
        process_mean=-50.0,
        process_sd=45.0,
        u=10.0,
        lower=-150.0,
        upper=50.0,
        accept_low=-140.0,
        accept_high=40.0,
    )
    for risk, seen in (
        (found.consumer, np.mean(~within & accepted)),
        (found.producer, np.mean(within & ~accepted)),
    ):
        assert seen == pytest.approx(risk, abs=4 * math.sqrt(risk / n))


def test_stated_confidence_is_kept_by_accepted_values() -> None:
    """With nothing known beforehand, P(conforming | measured) is what the decision promises.

    True values drawn evenly over a range far wider than the limits; of those measured right at
    the edge of acceptance, 95 % conform.  20 000 draws: 4 binomial sd are 0.0062.
    """
    rng = np.random.default_rng(3)
    low, high = acceptance_interval(u=0.5, lower=-1.0, upper=1.0)
    assert low is not None
    # For an even prior, the true value given the measured one is measured + noise.
    true = high + rng.normal(0.0, 0.5, 20_000)
    assert np.mean(np.abs(true) <= 1.0) == pytest.approx(0.95, abs=0.0062)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: conformance_probability(0.0, u=1.0), "at least one is wanted"),
        (lambda: conformance_probability(0.0, u=1.0, lower=2.0, upper=1.0), "exchange them"),
        (lambda: conformance_probability(0.0, u=1.0, lower=-math.inf), "pass None"),
        (lambda: conformance_probability(0.0, u=-1.0, lower=0.0), "uncertainty of -1.0"),
        (lambda: conformance_probability(0.0, u=math.nan, lower=0.0), "uncertainty of nan"),
        (lambda: decide(0.5, 0.5), "confidence of 0.5"),
        (lambda: decide(0.5, 95.0), "write 0.95"),
        (lambda: decide(math.nan), "probability of nan"),
        (
            lambda: global_risks(
                process_mean=0.0, process_sd=0.0, u=1.0, upper=1.0, accept_high=1.0
            ),
            "spread of 0.0",
        ),
    ],
)
def test_wrong_calls_say_what_is_wanted(call, words) -> None:
    with pytest.raises(UsageError, match=words):
        call()
