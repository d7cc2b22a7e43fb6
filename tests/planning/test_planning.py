"""Plans against closed forms, against simulated measurements, and against their own advice."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, t

from filmstress.errors import RefusedInput
from filmstress.inputs.settings import from_arguments
from filmstress.measure.wafer import pair_request
from filmstress.planning.chances import chances_of, least_told_from_zero
from filmstress.planning.planning import plan
from filmstress.planning.trial import film_curvature, trial
from filmstress.records.plan import Instrument
from filmstress.records.wafer import WaferSpec
from tests.benchmarks.plan_grid import grid

STATED = {
    "substrate": "Si(001)",
    "azimuth_reference": "[110]",
    "diameter": "150 mm",
    "substrate_thickness": "675 um ± 5 um",
    "film_thickness": "500 nm ± 1 %",
}
INSTRUMENT = Instrument(length_m=0.1, points=1000)


def wafer(**changes: str | None) -> WaferSpec:
    stated = {k: v for k, v in {**STATED, **changes}.items() if v is not None}
    return pair_request("a", "b", from_arguments(stated, as_options=False, shared_by="wafer"))


# What a decision would be.


@given(st.floats(-5.0, 5.0), st.floats(0.6, 0.99))
def test_chances_of_a_one_sided_limit(apart: float, confidence: float) -> None:
    # Accepted below limit - z u, rejected above limit + z u (JCGM 106:2012, 8.3.3): a normal
    # measured value of the same u falls there with these probabilities.
    z = norm.ppf(confidence)
    found = chances_of(0.0, u=1.0, lower=None, upper=apart, confidence=confidence)
    assert found.accepted == pytest.approx(norm.cdf(apart - z), abs=0.02)
    assert found.rejected == pytest.approx(norm.sf(apart + z), abs=0.02)
    assert found.accepted + found.rejected + found.undecided == pytest.approx(1.0)


def test_what_is_known_exactly_is_decided() -> None:
    limits = {"lower": -1.0, "upper": 1.0, "confidence": 0.95}
    assert chances_of(0.9, u=0.0, **limits).accepted == 1.0
    assert chances_of(1.1, u=0.0, **limits).rejected == 1.0


@pytest.mark.parametrize("dof", [4.0, 17.0, math.inf])
def test_least_told_from_zero(dof: float) -> None:
    # Currie, Anal. Chem. 40 (1968) 586, with a two-sided interval: k_95 + k_90 by Student's t.
    law = norm if math.isinf(dof) else t(dof)
    want = law.ppf(0.975) + law.ppf(0.95)
    assert least_told_from_zero(2.0, dof=dof) == pytest.approx(2.0 * want, rel=1e-6)


# The trial is a measurement.


def test_the_bow_is_stoneys() -> None:
    # M of Si(001) 180.3156 GPa (Mason 1958); 6 sigma h_f/(M h_s^2), 1 + h_f/h_s for the mean.
    stoney = 6.0 * -200e6 * 500e-9 / (180.3156e9 * 675e-6**2)
    want = stoney * (1.0 + 500e-9 / 675e-6)
    assert film_curvature(wafer(), -200e6, 0.0) == pytest.approx(want, rel=1e-5)
    made = plan(wafer(), INSTRUMENT, stress_pa=-200e6)
    assert made.bow_change == pytest.approx(want * 0.1**2 / 8.0, rel=1e-5)
    assert film_curvature(wafer(film_face="down"), -200e6, 0.0) == pytest.approx(-want, rel=1e-5)


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"film_face": "down"},
        {"height_up": "no"},
        {"origin": "-40 mm"},
        {"substrate": "Si(111)", "azimuth_reference": "[1-10]"},
    ],
)
def test_a_trial_finds_the_stress_it_was_drawn_with(changes: dict[str, str]) -> None:
    found = trial(wafer(**changes), INSTRUMENT, stress_pa=150e6, seed=3, setting="balanced").stress
    assert found is not None
    assert found.low is not None
    assert found.high is not None
    assert found.low < 150e6 < found.high


def test_plans_come_true() -> None:
    # Three plans within 15 % (tests/benchmarks/plan_grid.py: 50 of them).
    rows = grid(3, seed=2)
    assert [row.ratio for row in rows] == [pytest.approx(1.0, abs=0.15)] * 3


# What it advises.


def test_what_is_advised_delivers() -> None:
    nominal = wafer(substrate_thickness="675 um")
    made = plan(nominal, INSTRUMENT, stress_pa=-200e6)
    best = made.changes[0]
    assert best.what == "substrate thickness"
    followed = wafer(substrate_thickness=f"675 um ± {best.then * 1e6:g} um")
    again = plan(followed, INSTRUMENT, stress_pa=-200e6)
    assert again.stress.expanded == pytest.approx(best.expanded, rel=0.02)
    assert again.stress.expanded < 0.8 * (made.stress.expanded or 0.0)


def test_a_weak_film_wants_longer_scans() -> None:
    weak = wafer(substrate_thickness="675 um ± 1 um", bow_repeatability="30 nm")
    short = replace(INSTRUMENT, length_m=0.05)
    made = plan(weak, short, stress_pa=-20e6)
    best = made.changes[0]
    assert best.what == "scan length"
    # A bow of 30 nm in each scan: sqrt(2) 8 b/L^2 in curvature.
    drift = 180.3156e9 * 675e-6**2 / 6.0 * math.sqrt(2.0) * 8.0 * 30e-9 / 0.05**2 / 500e-9
    assert made.stress.u == pytest.approx(drift, rel=0.1)
    longer = plan(weak, replace(short, length_m=best.then), stress_pa=-20e6)
    assert longer.stress.expanded == pytest.approx(best.expanded, rel=0.3)
    four = next(one for one in made.changes if one.what == "repeats")
    # Half by averaging, if the scatter of four did not have to speak for itself (t of 3 degrees).
    assert 0.45 < four.expanded / (made.stress.expanded or 0.0) < 1.0


def test_limits_are_judged() -> None:
    made = plan(wafer(), INSTRUMENT, stress_pa=-200e6, lower=-250e6, upper=-150e6)
    assert made.chances is not None
    assert made.chances.accepted > 0.99
    at_the_limit = plan(wafer(), INSTRUMENT, stress_pa=-250e6, lower=-250e6, upper=-150e6)
    assert at_the_limit.chances is not None
    # On the limit itself accepted and rejected are 5 % each.
    assert at_the_limit.chances.accepted == pytest.approx(0.05, abs=0.02)
    assert at_the_limit.chances.rejected == pytest.approx(0.05, abs=0.02)


def test_what_does_not_fit_is_said() -> None:
    made = plan(wafer(), replace(INSTRUMENT, height_range_m=1e-6), stress_pa=-200e6)
    assert made.fits is False
    with pytest.raises(RefusedInput, match="longer than the wafer"):
        plan(wafer(), replace(INSTRUMENT, length_m=0.2), stress_pa=-200e6)


def test_a_measurement_that_would_be_refused() -> None:
    made = plan(wafer(support="clamped"), INSTRUMENT, stress_pa=-200e6)
    assert made.refusal is not None
    assert made.refusal.code == "clamped"
