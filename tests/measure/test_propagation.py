"""When Monte Carlo runs by itself, and what it changes."""

from __future__ import annotations

import math
import time
from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from filmstress.measure.film import Film
from filmstress.measure.propagation import propagated, tolerance
from filmstress.measure.wafer import measure_film
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.stats.draws import Variate
from filmstress.stats.monte_carlo import Floats, propagate
from tests.measure._pairs import write_pair

STATED = {
    "substrate": "Si(001)",
    "substrate_thickness": "525 um ± 2 um",
    "film_thickness": "1.00 um ± 1 %",
    "film_thickness_profile": "0 % (exact)",
    "support": "three-points",
}
CHANGE = 0.0120725592
FAILS = "first-order-fails"


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    return write_pair(tmp_path_factory.mktemp("pair"), change_per_m=CHANGE)


def codes(result: StressResult) -> set[str]:
    return {notice.code.value for notice in result.warnings}


def ends(estimate: Estimate | None) -> tuple[float, float]:
    assert estimate is not None
    assert estimate.low is not None
    assert estimate.high is not None
    return estimate.low, estimate.high


def test_an_ordinary_measurement_stays_first_order(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **STATED)
    assert result.monte_carlo is None
    assert FAILS not in codes(result)


def test_asked_for_it_confirms_an_ordinary_measurement(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **STATED, monte_carlo=True)
    assert result.monte_carlo is not None
    assert result.monte_carlo.asked
    assert all(one.validated for _, one in result.monte_carlo.outputs)
    assert ends(result.stress) == ends(measure_film(*pair, **STATED).stress)


def test_limits_that_dominate(pair: tuple[str, str]) -> None:
    """A rectangular film thickness alone: the stress lies within 1/(1 ± 20 %) of its limits."""
    exact = {
        "substrate_thickness": "525 um (exact)",
        "film_thickness": "1.00 um ± 20 % (limits)",
        "height_scale_uncertainty": "0.001 %",
        "position_scale_uncertainty": "0.001 %",
    }
    result = measure_film(*pair, **{**STATED, **exact})
    assert FAILS in codes(result)
    assert result.stress is not None
    low, high = ends(result.stress)
    # 2.5 % from both ends of the limits; the modulus of the table adds its half percent.
    want = (result.stress.value / 1.19, result.stress.value / 0.81)
    assert (low, high) == pytest.approx(want, rel=6e-3)
    farther = max(high - result.stress.value, result.stress.value - low)
    assert result.stress.expanded == pytest.approx(farther)
    assert math.isinf(result.stress.dof)
    assert result.stress_by_direction[0].stress == result.stress


def test_a_signal_near_zero_beside_a_wide_thickness(tmp_path: Path) -> None:
    """Product of noise and a wide factor: JCGM 100 knows the noise alone."""
    flat = write_pair(tmp_path, change_per_m=0.0, noise_m=100e-9)
    wide = {"film_thickness": "1.00 um ± 25 %", "bow_repeatability": "50 nm"}
    result = measure_film(*flat, **{**STATED, **wide})
    assert result.sense == "not distinguishable from zero"
    assert FAILS in codes(result)
    assert result.monte_carlo is not None
    found = result.monte_carlo.of("stress")
    assert found is not None
    assert found.drawn.high - found.drawn.low > 1.02 * (found.first_high - found.first_low)


def test_force_may_stand_where_stress_fails(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **{**STATED, "film_thickness": "1.00 um ± 10 %"})
    assert result.monte_carlo is not None
    assert result.monte_carlo.instead("stress") is not None
    assert result.monte_carlo.instead("force_per_width") is None
    force = result.monte_carlo.of("force_per_width")
    assert force is not None
    assert ends(result.force_per_width) == (force.first_low, force.first_high)


def test_the_seed_is_all_there_is_to_chance(pair: tuple[str, str]) -> None:
    def interval(seed: int) -> tuple[float, float]:
        stated = {**STATED, "film_thickness": "1.00 um ± 10 %"}
        return ends(measure_film(*pair, **stated, seed=seed).stress)

    assert interval(4) == interval(4)
    assert interval(4) != interval(5)


@pytest.mark.parametrize(("u", "want"), [(1.2, 0.12), (3.0, 0.3), (6.4, 0.5), (9.4, 0.5)])
def test_tolerance_is_half_a_digit_or_a_tenth(u: float, want: float) -> None:
    assert tolerance(u) == pytest.approx(want)


def test_the_interval_covers_as_it_says() -> None:
    """A stress 1/h, h read with u = 0.15: of 400 intervals from as many readings, 95 % hold 1.

    A correct program fails with a probability of 0.001 (binomial).
    """
    readings = 1.0 + 0.15 * np.random.default_rng(8).standard_normal(400)
    held = 0
    for seed, read in enumerate(readings.tolist()):

        def stress(reduced: Floats, read: float = read) -> Floats:
            return np.asarray(1.0 / (read + 0.15 * reduced))

        (found,) = propagate(stress, [Variate("h")], seed=seed, most=20_000)
        held += found.low <= 1.0 <= found.high
    low, high = scipy.stats.binom.interval(0.999, 400, 0.95)
    assert low <= held <= high


def test_the_look_costs_next_to_nothing(
    pair: tuple[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A bound for a busy machine; on a quiet one it is well below 1 ms."""
    caught: list[Film] = []
    of = Film.of
    monkeypatch.setattr(Film, "of", lambda *given: caught.append(of(*given)) or caught[-1])
    result = measure_film(*pair, **STATED)
    assert result.stress is not None
    assert result.force_per_width is not None
    first = {"stress": result.stress, "force_per_width": result.force_per_width}
    taken = []
    for _ in range(20):
        start = time.perf_counter()
        assert propagated(caught[0], first) is None
        taken.append(time.perf_counter() - start)
    assert min(taken) < 2e-3
