"""Repeats of one azimuth: type A between them, neither counted twice nor dropped."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from filmstress.inputs.request import LineInput, build_wafer
from filmstress.inputs.settings import Settings, from_arguments
from filmstress.measure.wafer import measure_wafer
from filmstress.records.result import StressResult
from tests.measure._pairs import write_pair

STATED = {
    "substrate": "Si(001)",
    "substrate_thickness": "525 um ± 2 um",
    "film_thickness": "1.00 um ± 2 %",
    "support": "three-points",
}
CHANGE = 0.0120725592


def measured(lines: list[tuple[str, str, str]]) -> StressResult:
    """Measure lines of (azimuth, pre, post)."""
    settings = from_arguments(STATED, as_options=False, shared_by="wafer")
    inputs = []
    for azimuth, pre, post in lines:
        own: Settings = from_arguments({"azimuth": azimuth}, as_options=False, shared_by="wafer")
        inputs.append(LineInput(own, {"pre": pre, "post": post}, azimuth))
    return measure_wafer(build_wafer("w", settings, inputs))


def names(result: StressResult) -> set[str]:
    return {row.term.input for row in result.budget.rows}


def test_repeats_that_agree_add_nothing_and_average(tmp_path: Path) -> None:
    pairs = [write_pair(tmp_path, change_per_m=CHANGE, seed=seed) for seed in (1, 2, 3)]
    result = measured([("0 deg", *pair) for pair in pairs])
    each = [line.change.curvature for line in result.lines]
    assert result.curvature_change.value == pytest.approx(np.mean(each), rel=1e-12)
    assert len(result.stress_by_direction) == 1
    fits = [row.term for row in result.budget.rows if row.term.input.startswith("curvature fit")]
    assert len(fits) == 3


def test_repeats_that_scatter_bring_a_row_of_their_own(tmp_path: Path) -> None:
    changes = (0.0118, 0.0121, 0.0124)
    pairs = [write_pair(tmp_path, change_per_m=c, seed=i) for i, c in enumerate(changes)]
    result = measured([("0 deg", *pair) for pair in pairs])
    term = next(r.term for r in result.budget.rows if r.term.input.startswith("between repeats"))
    found = [line.change.curvature for line in result.lines]
    own = np.mean([sum(t.contribution**2 for t in line.terms) for line in result.lines])
    # One-way random effects: between = s^2 - mean own variance (Searle, Casella & McCulloch,
    # Variance Components (1992), section 3.5, from memory).
    assert term.u == pytest.approx(math.sqrt(np.var(found, ddof=1) - own), rel=1e-9)
    # Satterthwaite for a difference of which only the first part has few degrees of freedom.
    assert term.dof == pytest.approx(2 * (term.u**2 / np.var(found, ddof=1)) ** 2, rel=1e-9)
    total = sum(
        (r.term.contribution / abs(result.stress.value)) ** 2  # type: ignore[union-attr]
        for r in result.budget.rows
        if r.term.input.startswith(("between repeats", "curvature fit", "registration"))
    )
    want = np.var(found, ddof=1) / 3 / CHANGE**2
    assert total == pytest.approx(want, rel=0.05)


def test_azimuths_that_differ_are_told_apart_and_warned_about(tmp_path: Path) -> None:
    one = write_pair(tmp_path, change_per_m=CHANGE, seed=1)
    other = write_pair(tmp_path, change_per_m=1.8 * CHANGE, seed=2)
    result = measured([("0 deg", *one), ("90 deg", *other)])
    codes = {notice.code.value for notice in result.warnings}
    assert "azimuths-differ" in codes
    low, high = (entry.stress.value for entry in result.stress_by_direction)
    assert result.stress is not None
    assert result.stress.value == pytest.approx((low + high) / 2, rel=1e-12)
    # N = h^2/6 Q kappa for Si(001) along <110>: Q11 = 169.758, Q12 = 10.558 GPa (moduli of
    # Mason 1958, by hand).
    k = [line.change.curvature for line in result.lines]
    want = 525e-6**2 / 6 * (169.75782e9 * k[0] + 10.55782e9 * k[1]) / 1e-6 / (1 + 1 / 525)
    assert low == pytest.approx(want, rel=1e-6)


def test_equal_azimuths_do_not_differ(tmp_path: Path) -> None:
    one = write_pair(tmp_path, change_per_m=CHANGE, seed=1)
    other = write_pair(tmp_path, change_per_m=CHANGE, seed=2)
    result = measured([("0 deg", *one), ("90 deg", *other)])
    assert "azimuths-differ" not in {notice.code.value for notice in result.warnings}
    assert {"curvature fit, 0 deg", "curvature fit, 90 deg"} <= names(result)


def test_three_azimuths_give_the_principal_stresses(tmp_path: Path) -> None:
    # kappa(phi) = mean + half-difference cos 2 (phi - axis), on an isotropic plate by hand.
    mean, half, axis = 0.012, 0.003, math.radians(25.0)
    lines = []
    for number, degrees in enumerate((0, 60, 120)):
        change = mean + half * math.cos(2.0 * (math.radians(degrees) - axis))
        pair = write_pair(tmp_path, change_per_m=change, seed=number + 1)
        lines.append((f"{degrees} deg", *pair))
    settings = from_arguments(
        {**STATED, "substrate": "fused silica"}, as_options=False, shared_by="wafer"
    )
    inputs = [
        LineInput(
            from_arguments({"azimuth": azimuth}, as_options=False, shared_by="wafer"),
            {"pre": pre, "post": post},
            azimuth,
        )
        for azimuth, pre, post in lines
    ]
    result = measure_wafer(build_wafer("w", settings, inputs))
    found = result.principal
    assert found is not None
    # E 72.7 GPa, nu 0.165: N = h^2 E / (6 (1 - nu^2)) (k_1 + nu k_2).
    per = 525e-6**2 * 72.7e9 / (6 * (1 - 0.165**2)) / 1e-6 / (1 + 1 / 525)
    high, low = mean + half, mean - half
    assert found.high.value == pytest.approx(per * (high + 0.165 * low), rel=5e-3)
    assert found.low.value == pytest.approx(per * (low + 0.165 * high), rel=5e-3)
    assert found.axis.u is not None
    assert found.axis.value == pytest.approx(axis, abs=max(4 * found.axis.u, 0.02))
    assert found.axis.u < 0.02


def test_one_azimuth_has_no_principal_stresses(tmp_path: Path) -> None:
    assert measured([("0 deg", *write_pair(tmp_path, change_per_m=CHANGE))]).principal is None
