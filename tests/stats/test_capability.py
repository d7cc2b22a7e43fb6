"""Capability: exact intervals by their defining probabilities, lots, measurement taken out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import binom, chi2, nct, norm

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.capability import capability
from filmstress.stats.process_spread import (
    Process,
    SpreadKind,
    process_of_components,
    process_of_values,
    without_measurement,
)
from filmstress.stats.variance_components.nested import nested_anova
from tests.benchmarks.process_statistics import nested_draw, study


def process(n: int, mean: float = 0.0, sigma: float = 1.0) -> Process:
    return Process(mean, sigma / math.sqrt(n), sigma, n - 1.0, SpreadKind.WITHIN)


@pytest.mark.parametrize("n", [5, 20, 100])
def test_one_limit_is_exact(n: int) -> None:
    """At either end, an index this small or large comes up with half of the rest of p."""
    found = capability(process(n), upper=3.99).actual
    t = 3.0 * math.sqrt(n) * found.value
    assert found.value == pytest.approx(1.33)
    for end, probability in ((found.low, 0.975), (found.high, 0.025), (found.at_least, 0.95)):
        law = nct(n - 1, 3.0 * math.sqrt(n) * end)
        assert law.cdf(t) == pytest.approx(probability, abs=1e-7)
    mirrored = capability(process(n), lower=-3.99).actual
    assert mirrored.low == pytest.approx(found.low)


def test_two_limits() -> None:
    """Cp by chi-square; Cpk by Bissell's formula, both written out."""
    found = capability(process(50), lower=-3.99, upper=3.99)
    assert found.potential is not None
    assert found.potential.low == pytest.approx(1.33 * math.sqrt(chi2.ppf(0.025, 49) / 49))
    assert found.potential.high == pytest.approx(1.33 * math.sqrt(chi2.ppf(0.975, 49) / 49))
    half = norm.ppf(0.975) * math.sqrt(1 / (9 * 50) + 1.33**2 / (2 * 49))
    assert found.actual.high - 1.33 == pytest.approx(half)
    assert found.actual.method == "Bissell"
    # Approximate as it is, it comes within 2 % of the exact one for a single limit.
    assert found.actual.low == pytest.approx(
        capability(process(50), upper=3.99).actual.low, rel=0.02
    )
    assert found.outside == pytest.approx(2.0 * norm.sf(3.99))


def test_mean_outside_is_a_negative_index() -> None:
    found = capability(process(20, mean=5.0), lower=0.0, upper=4.0)
    assert found.actual.value == pytest.approx(-1.0 / 3.0)
    assert found.actual.low < found.actual.value < found.actual.high


def test_measurement_taken_out() -> None:
    raw = process(25, sigma=2.0)
    net = without_measurement(raw, u=1.2)
    assert net.sigma == pytest.approx(1.6)
    assert net.dof < raw.dof
    assert without_measurement(raw, u=0.0).sigma == raw.sigma
    narrow = capability(net, lower=-6.0, upper=6.0).potential
    assert narrow is not None
    assert narrow.value == pytest.approx(1.25)
    with pytest.raises(RefusedInput, match="nothing is left for the process itself"):
        without_measurement(raw, u=2.0)


def test_lots_count_as_lots() -> None:
    y, levels = nested_draw(np.random.default_rng(2), 8)
    found = nested_anova(y, levels)
    nested = process_of_components(found)
    wafers = process_of_values(y)
    assert nested.dof < 0.4 * wafers.dof
    of_lots, of_items = (capability(one, upper=40.0).actual for one in (nested, wafers))
    assert of_lots.low < of_items.low
    within = process_of_components(found, kind=SpreadKind.WITHIN, leave_out=("repeat",))
    assert within.sigma == pytest.approx(found.components[1].sd)
    assert capability(within, upper=40.0).actual.name == "Cpk"
    with pytest.raises(UsageError, match="'site' is no component"):
        process_of_components(found, leave_out=("site",))


def test_lots_net_of_measurement() -> None:
    y, levels = nested_draw(np.random.default_rng(2), 8)
    raw = process_of_components(nested_anova(y, levels))
    net = without_measurement(raw, u=3.0)
    both = [capability(one, lower=-40.0, upper=40.0).actual for one in (raw, net)]
    assert both[1].value > both[0].value
    assert both[1].low > both[0].low
    assert both[0].method == "generalised"


def test_what_has_no_capability() -> None:
    with pytest.raises(RefusedInput, match="2 values without a spread"):
        process_of_values([1.0, 1.0])
    with pytest.raises(UsageError, match="does not lie below the upper"):
        capability(process(9), lower=4.0, upper=1.0)
    with pytest.raises(UsageError, match="no limit came"):
        capability(process(9))


def test_coverage() -> None:
    """200 runs; an interval of 94 to 97 % fails here with a probability below 1e-4."""
    held = study("Ppk, 8 lots, two limits", 200, 15).coverage * 200
    assert binom.ppf(5e-5, 200, 0.94) <= held <= binom.ppf(1.0 - 5e-5, 200, 0.97)
