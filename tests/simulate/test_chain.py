"""Backwards and forwards: what is written is read back, what was drawn is measured again."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from filmstress.lots.manifest import read_lot
from filmstress.measure.wafer import measure_wafer
from filmstress.records.notice import WarningCode
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.registration import register
from filmstress.simulate.pair import simulate_pair
from filmstress.simulate.styles import STYLES
from filmstress.simulate.truth import ScanConditions
from filmstress.simulate.truth_file import read_truths
from filmstress.simulate.writing import write_scan
from tests.simulate.truths import quiet

DEMO = Path(__file__).parents[2] / "data" / "demo"
WAFERS = [
    (path.parent.name, wafer)
    for path in sorted(DEMO.glob("*/truth.toml"))
    for wafer in read_truths(path)
]


@pytest.mark.parametrize("style", STYLES)
def test_every_layout_is_read_back(tmp_path, style):
    how = ScanConditions(blank_count=7)
    trace = simulate_pair(quiet(bare_bow_m=20e-6, white_noise_m=5e-9, post=how)).post_trace
    write_scan(trace.x, trace.z, tmp_path / "scan.csv", style=style)
    scan = read_scan(tmp_path / "scan.csv")
    assert scan.source.rows == 901
    assert sum(left_out.count for left_out in scan.source.left_out) == 7
    # Every layout writes 0.1 um along and 0.1 nm up, or finer.
    np.testing.assert_allclose(scan.x, trace.scan.x, rtol=0.0, atol=0.5001e-7)
    np.testing.assert_allclose(scan.z, trace.scan.z, rtol=0.0, atol=0.5001e-10)


@pytest.mark.parametrize("turned", [False, True])
def test_offset_has_the_sign_that_registration_gives_it(turned):
    truth = quiet(
        waviness_rms_m=60e-9,
        white_noise_m=2e-9,
        post=ScanConditions(lateral_offset_m=0.37e-3, reversed=turned),
    )
    pair = simulate_pair(truth)
    found = register(pair.pre.x - 45e-3, pair.pre.z, pair.post.x - 45e-3, pair.post.z)
    assert found.reversed is turned
    # A tenth of a sample.
    assert found.offset_m == pytest.approx(pair.offset_m, abs=10e-6)


@pytest.mark.parametrize(("folder", "wafer"), WAFERS)
def test_demo_wafer_gives_back_its_true_stress(folder, wafer):
    lot = read_lot(DEMO / folder / "lot.toml")
    (spec,) = (spec for spec in lot.wafers if spec.id == wafer)
    stress = measure_wafer(spec).stress
    true = read_truths(DEMO / folder / "truth.toml")[wafer].mean_stress_pa
    assert stress is not None
    assert stress.u is not None
    # Three standard uncertainties, and an uncertainty of use: within 2 % of the stress.
    assert abs(stress.value - true) < 3.0 * stress.u
    assert stress.u < 0.02 * abs(true)


def test_warnings_come_where_the_scenario_put_their_cause():
    expected = {("N24-04", "02"): {WarningCode.AZIMUTHS_DIFFER}}
    alarming = {
        WarningCode.AZIMUTHS_DIFFER,
        WarningCode.LOW_MATCH,
        WarningCode.NOT_A_PARABOLA,
        WarningCode.SWAP_SUSPECTED,
        WarningCode.UNCERTAINTY_NOT_ESTABLISHED,
    }
    for folder in {folder for folder, _ in WAFERS}:
        for spec in read_lot(DEMO / folder / "lot.toml").wafers:
            codes = {notice.code for notice in measure_wafer(spec).warnings}
            assert codes & alarming == expected.get((folder, spec.id), set()), (folder, spec.id)
