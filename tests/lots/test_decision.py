"""The lot rule against closed forms of JCGM 106:2012, and what blocks or would bring a decision."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from filmstress.lots.advice import would_decide
from filmstress.lots.decision import conformance, decide_lot
from filmstress.lots.limits import lot_limits
from filmstress.records.lot import LotLimit, Specification, WaferOutcome
from filmstress.records.propagated import Comparison, MonteCarlo
from filmstress.records.quantity import Shape
from filmstress.stats.budget import combine
from filmstress.stats.conformance import conformance_probability
from filmstress.stats.coverage import estimate
from filmstress.stats.draws import Variate
from filmstress.stats.monte_carlo import propagate
from tests.lots.outcomes import MPA, lot, outcome, refused, term

WIDE = Specification(lower=-150 * MPA, upper=50 * MPA)
PHI = NormalDist().cdf


def decided(
    *outcomes: WaferOutcome, specification: Specification | None = WIDE
) -> tuple[str | None, str]:
    judged = [conformance(one, specification) for one in outcomes]
    limits = lot_limits(judged, specification)
    decision, reason, _ = decide_lot(judged, limits, lot(*outcomes, specification=specification))
    return decision, reason


@pytest.mark.parametrize("validated", [False, True])
def test_the_distribution_whose_interval_is_stated_decides(validated: bool) -> None:
    """Limits of 30 ± 10 sqrt(3) MPa, below 35 MPa: (5/17.32 + 1)/2; a normal one: Phi(0.5).

    0.644 and 0.691: far enough from each other to tell which of the two decided.
    """
    (drawn,) = propagate(
        lambda reduced: (30.0 + 10.0 * reduced) * MPA,
        [Variate("limits", shape=Shape.RECTANGULAR)],
        tolerances=[0.02 * MPA],
    )
    one = outcome("01", 30.0, u_mpa=10.0)
    assert one.result is not None
    assert one.stress is not None
    found = Comparison(drawn, one.stress.low or 0.0, one.stress.high or 0.0, MPA, validated)
    result = replace(one.result, monte_carlo=MonteCarlo(1, False, (("stress", found),)))
    judged = conformance(replace(one, result=result), Specification(upper=35.0 * MPA))
    want = PHI(0.5) if validated else 0.5 * (5.0 / (10.0 * math.sqrt(3.0)) + 1.0)
    assert judged.conformance_probability == pytest.approx(want, abs=1e-9 if validated else 2e-3)


@pytest.mark.parametrize(
    ("value", "u", "probability"),
    [
        # JCGM 106:2012, 7.3 and 7.4 with a normal distribution; 42 ± 10: 0.7881446014.
        (42.0, 10.0, 0.7881446014),
        (-50.0, 10.0, PHI(10) - PHI(-10)),
        (50.0, 10.0, 0.5 - PHI(-20)),
        (50.0 - 1.6448536269514722 * 10.0, 10.0, 0.95),
        (50.0 + 1.6448536269514722 * 10.0, 10.0, 0.05),
        (-250.0, 30.0, PHI(10) - PHI(10 / 3)),
    ],
)
def test_probability_of_a_wafer(value: float, u: float, probability: float) -> None:
    judged = conformance(outcome("01", value, u_mpa=u), WIDE)
    assert judged.conformance_probability == pytest.approx(probability, rel=1e-8)


def test_few_degrees_of_freedom_count() -> None:
    """JCGM 101:2008, 6.4.9: with 4 degrees of freedom P(T < 2.131847) = 0.95 (table of t)."""
    one = outcome("01", 50.0 - 2.131847 * 5.0, term("fit", 5.0, dof=4.0))
    upper = Specification(upper=50 * MPA)
    assert conformance(one, upper).conformance_probability == pytest.approx(0.95, abs=1e-6)


@pytest.mark.parametrize(
    ("outside_by", "decision"),
    [
        # In standard uncertainties beyond the upper limit; one-sided 95 % lies at 1.645.
        (-8.0, "accepted"),
        (-1.66, "accepted"),
        (-1.63, "undecided"),
        (0.0, "undecided"),
        (1.63, "undecided"),
        (1.66, "rejected"),
        (8.0, "rejected"),
    ],
)
def test_one_wafer(outside_by: float, decision: str) -> None:
    assert decided(outcome("01", 50.0 + 10.0 * outside_by, u_mpa=10.0))[0] == decision


def test_a_confidence_moves_the_bounds() -> None:
    strict = replace(WIDE, confidence=0.99)
    one = outcome("01", 50.0 - 2.0 * 10.0, u_mpa=10.0)
    assert decided(one)[0] == "accepted"
    assert decided(one, specification=strict)[0] == "undecided"


verdicts = st.lists(st.sampled_from(["in", "out", "unclear", "refused"]), min_size=1, max_size=6)


@given(verdicts=verdicts)
def test_the_rule_over_several_wafers(verdicts: list[str]) -> None:
    """Rejected if any is out, else undecided if any is unclear or refused, else accepted."""
    value = {"in": 0.0, "out": 200.0, "unclear": 50.0}
    outcomes = [
        refused(str(i)) if verdict == "refused" else outcome(str(i), value[verdict], u_mpa=5.0)
        for i, verdict in enumerate(verdicts)
    ]
    expected = "accepted"
    if {"unclear", "refused"} & set(verdicts):
        expected = "undecided"
    if "out" in verdicts:
        expected = "rejected"
    decision, reason = decided(*outcomes)
    assert decision == expected
    for i, verdict in enumerate(verdicts):
        if verdict == expected or (verdict == "refused" and expected != "accepted"):
            assert f"{i}" in reason


def test_without_a_specification_there_is_no_decision() -> None:
    assert decided(outcome("01", 0.0, u_mpa=1.0), specification=None) == (
        None,
        "no specification is stated",
    )


def test_a_refused_wafer_blocks_acceptance_but_not_rejection() -> None:
    decision, reason = decided(outcome("01", 0.0, u_mpa=1.0), refused("02"))
    assert (decision, reason) == ("undecided", "wafer 02 refused, which blocks acceptance")
    decision, reason = decided(outcome("01", 300.0, u_mpa=1.0), refused("02"))
    assert decision == "rejected"
    assert "wafer 01 (conforms with probability below 0.1 %)" in reason
    assert "wafer 02 refused" in reason


def test_a_refused_witness_blocks_too() -> None:
    decision, reason = decided(outcome("01", 0.0, u_mpa=1.0), refused("W", role="witness"))
    assert decision == "undecided"
    assert "wafer W refused" in reason


def test_a_witness_is_not_held_against_the_limits() -> None:
    narrow = Specification(lower=100 * MPA, upper=300 * MPA)
    witness = outcome("W", 0.5, u_mpa=1.0, role="witness")
    judged = conformance(witness, narrow)
    assert judged.conformance_probability is None
    assert decided(outcome("01", 200.0, u_mpa=5.0), witness, specification=narrow)[0] == "accepted"


@pytest.mark.parametrize(
    "witness",
    [
        outcome("W", 10.0, u_mpa=1.0, role="witness"),
        outcome("W", None, u_mpa=1.0, role="witness", force=5.0),
    ],
    ids=["stress", "force per width"],
)
def test_a_witness_that_moved_blocks_acceptance(witness: WaferOutcome) -> None:
    decision, reason = decided(outcome("01", 0.0, u_mpa=1.0), witness)
    assert decision == "undecided"
    assert "witness wafer W does not hold zero" in reason
    assert decided(outcome("01", 300.0, u_mpa=1.0), witness)[0] == "rejected"


def test_a_lot_of_witnesses_is_not_accepted() -> None:
    assert decided(outcome("W", 0.0, u_mpa=1.0, role="witness"))[0] == "undecided"


def test_a_wafer_without_a_film_thickness_blocks_acceptance() -> None:
    decision, reason = decided(
        outcome("01", 0.0, u_mpa=1.0), outcome("02", None, u_mpa=1.0, force=5.0)
    )
    assert decision == "undecided"
    assert reason == "no stress of wafer 02: the film's thickness is not stated"


def test_an_unknown_uncertainty_blocks_acceptance() -> None:
    decision, reason = decided(
        outcome("01", 0.0, u_mpa=1.0), outcome("02", 0.0, u_mpa=1.0, known=False)
    )
    assert decision == "undecided"
    assert reason == "the uncertainty of wafer 02 is not known"


@pytest.mark.parametrize(
    ("probability", "gap", "decision"),
    [
        (0.97, "", "accepted"),
        (0.94, "", "undecided"),
        (0.06, "", "undecided"),
        (0.04, "", "rejected"),
        (0.97, "one azimuth only", "undecided"),
        (None, "one azimuth only", "undecided"),
        (0.04, "one azimuth only", "rejected"),
    ],
)
def test_limits_on_the_lot_count_like_wafers(
    probability: float | None, gap: str, decision: str
) -> None:
    one = conformance(outcome("01", 0.0, u_mpa=1.0), WIDE)
    limit = LotLimit("spread_max", 10 * MPA, 5 * MPA, probability, gap)
    found, reason, _ = decide_lot([one], [limit], lot(one, specification=WIDE))
    assert found == decision
    if decision != "accepted":
        assert "the difference from wafer to wafer" in reason


def test_probabilities_are_never_rounded_to_certainty() -> None:
    _, reason = decided(outcome("01", 0.0, u_mpa=1e-3))
    assert reason == "every wafer and limit conforms with probability 99.9 % or more (asked: 95 %)"


inputs = st.lists(st.floats(0.05, 20.0), min_size=1, max_size=5)


@given(value=st.floats(20.0, 80.0), sizes=inputs)
def test_following_the_advice_decides_the_wafer(value: float, sizes: list[float]) -> None:
    """With the named input at the named uncertainty the wafer is decided; a little worse, not."""
    terms = [term(f"input {i}", size) for i, size in enumerate(sizes)]
    one = conformance(outcome("01", value, *terms), WIDE)
    assert one.conformance_probability is not None
    assume(0.051 < one.conformance_probability < 0.949)
    advice = would_decide(one, WIDE)
    if advice is None:
        # Closer to a limit than a thousandth of the uncertainty brings.
        assert abs(value - 50.0) < 2e-3 * math.hypot(*sizes)
        return
    assert one.stress is not None
    total = math.hypot(*sizes) * MPA
    assert advice.stress_u < total

    def p_with(u: float) -> float:
        return conformance_probability(value * MPA, u=u, lower=WIDE.lower, upper=WIDE.upper)

    assert min(p_with(0.999 * advice.stress_u), 1 - p_with(0.999 * advice.stress_u)) < 0.05
    assert min(p_with(1.001 * advice.stress_u), 1 - p_with(1.001 * advice.stress_u)) > 0.05
    rest = math.sqrt(max(total**2 - (max(sizes) * MPA) ** 2, 0.0))
    if not advice.input:
        assert rest >= 0.999 * advice.stress_u
        return
    assert advice.u == 1.0  # terms here have u = 1 and the effect as sensitivity
    better = [
        replace(one, u=advice.needed_u) if one.input == advice.input else one for one in terms
    ]
    assert combine(better).u == pytest.approx(advice.stress_u, rel=1e-6)


def test_the_advice_is_told_in_words() -> None:
    thickness = replace(term("film thickness", 0.0), u=4e-9, unit="m", sensitivity=2.5e15)
    decision, reason = decided(outcome("01", 40.0, thickness, term("fit", 1.0)))
    assert decision == "undecided"
    # (50 - 40) / 1.6449 = 6.080 MPa in all, 5.997 MPa without the fit: 5.997 / 2.5 nm.
    assert "would be decided by its film thickness known to 2.4 nm in place of 4 nm" in reason
    _, reason = decided(outcome("01", 49.0, term("a", 5.0), term("b", 5.0)))
    assert "known to 0.61 MPa (standard uncertainty), which no single input can bring" in reason
    _, reason = decided(outcome("01", 50.0, u_mpa=5.0))
    assert "would be decided" not in reason


def test_a_witness_or_a_refused_wafer_gets_no_advice() -> None:
    judged = [conformance(outcome("01", 50.0, u_mpa=5.0), WIDE), refused("02")]
    assert decide_lot(judged, [], lot(*judged, specification=WIDE))[2] == ()


def test_only_the_lot_limits_may_be_stated() -> None:
    only = Specification(spread_max=50 * MPA)
    one, other = outcome("01", 0.0, u_mpa=1.0), outcome("02", 5.0, u_mpa=1.0)
    assert conformance(one, only).conformance_probability is None
    assert decided(one, other, specification=only)[0] == "accepted"


def test_estimate_keeps_the_degrees_of_freedom_for_the_probability() -> None:
    assert estimate(1.0, "Pa", u=1.0, dof=4.9).dof == 4.0
