"""The stage's straightness from the scans of a lot."""

from __future__ import annotations

import numpy as np
import pytest

from filmstress.errors import RefusedInput
from filmstress.records.scan import Scan, ScanSource
from filmstress.scans.stage import stage_from_scans
from tests.measure._pairs import waviness

X = np.linspace(0.0, 0.08, 2001)
STAGE = waviness(1000, rms_m=80e-9, shortest_m=6e-3)


def scan(wafer: int, offset_m: float, rng: np.random.Generator) -> Scan:
    own = waviness(wafer, rms_m=60e-9)
    z = own(X + offset_m) + STAGE(X) + 0.5 * rng.normal(0.01, 0.01) * X**2
    z += 1e-6 * rng.normal() + 1e-5 * rng.normal() * X + 2e-9 * rng.normal(size=X.size)
    return Scan(X, z, ScanSource("made", "", "m", "m", "x", "z", X.size))


def without_parabola(x: np.ndarray, z: np.ndarray) -> np.ndarray:
    t = x / x[-1]
    return z - np.polyval(np.polyfit(t, z, 2), t)


def test_many_wafers_show_the_stage() -> None:
    rng = np.random.default_rng(5)
    wafers = [[scan(i, 0.0, rng), scan(i, 0.3e-3, rng)] for i in range(25)]
    stage = stage_from_scans(wafers)
    want = without_parabola(stage.x, STAGE(stage.x))
    left = np.std(stage.z - want)
    # 25 wafers of 60 nm waviness average to 12 nm; the estimate's own jackknife says so too.
    assert left < 18e-9
    assert left < 0.3 * np.std(want)
    own = np.sqrt(24 / 25 * np.sum((stage.left_out - stage.left_out.mean(axis=0)) ** 2, axis=0))
    assert np.sqrt(np.mean(own**2)) == pytest.approx(left, rel=0.5)


def test_its_doubt_about_curvature_covers_its_error() -> None:
    inside = 0
    shift = 0.8e-3
    for seed in range(40):
        rng = np.random.default_rng(seed)
        wafers = [[scan(100 * seed + i, 0.0, rng)] for i in range(12)]
        stage = stage_from_scans(wafers)
        at = np.linspace(0.005, 0.075, 513)
        error = without_parabola(at, STAGE(at)) - np.interp(at, stage.x, stage.z)
        moved = np.interp(at - shift, at, error)
        t = (at - at.mean()) / 0.035
        curvature = 2.0 * np.polyfit(t[12:], (error - moved)[12:], 2)[0] / 0.035**2
        inside += abs(curvature) < 2.2 * stage.curvature_u(0.005, 0.075, shift)
    # 95 % expected (t with 11 dof); 40 runs fall below 33 with a probability of 1e-3.
    assert inside >= 33


def test_a_wafer_in_its_old_place_has_no_doubt_from_the_stage() -> None:
    rng = np.random.default_rng(5)
    stage = stage_from_scans([[scan(i, 0.0, rng)] for i in range(5)])
    assert stage.curvature_u(0.005, 0.075, 0.0) == 0.0


def test_too_few_wafers_are_refused() -> None:
    rng = np.random.default_rng(5)
    with pytest.raises(RefusedInput, match="3 wafers cannot tell the stage"):
        stage_from_scans([[scan(i, 0.0, rng)] for i in range(3)])
