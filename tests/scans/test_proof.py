"""The interval proves itself on copies of the measurement."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from filmstress.errors import UsageError
from filmstress.measure.wafer import measure_film
from filmstress.records.curvature import CurvatureChange, Proof, Trace
from filmstress.records.notice import WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.wafer import ScanSpec
from filmstress.scans import proof as room
from filmstress.scans.curvature import curvature_change
from filmstress.scans.proof import prove, proven
from tests.measure._pairs import waviness, write_pair

SPEC = ScanSpec(path="made", azimuth=Measured(0.0, "rad", 0.0))


def change() -> CurvatureChange:
    x = np.linspace(-0.04, 0.04, 1501)
    rng = np.random.default_rng(4)
    wafer = waviness(1)

    def trace(z: np.ndarray) -> Trace:
        noisy = z + rng.normal(scale=3e-9, size=x.size)
        return Trace(x, noisy, np.ones(x.size, bool))

    return curvature_change(
        trace(wafer(x)), trace(wafer(x) + 0.5 * 0.01 * x**2), pre_spec=SPEC, post_spec=SPEC
    )


def test_an_honest_interval_holds_in_its_copies() -> None:
    found = prove(change(), pre_spec=SPEC, post_spec=SPEC, copies=80)
    # 95 % expected; 80 copies hold fewer than 68 with a probability below 1e-3.
    assert found.held >= 68
    assert found.widening == 1.0


def test_the_same_seed_draws_the_same_copies() -> None:
    measured = change()
    first, second = (
        prove(measured, pre_spec=SPEC, post_spec=SPEC, copies=40, seed=3) for _ in range(2)
    )
    assert first == second


def test_an_interval_that_is_too_short_is_caught_and_widened(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    measured = change()

    def boastful(*args: object, **settings: object) -> CurvatureChange:
        again = curvature_change(*args, **settings)  # type: ignore[arg-type]
        return replace(again, terms=tuple(replace(t, u=t.u / 4.0) for t in again.terms))

    monkeypatch.setattr(room, "curvature_change", boastful)
    found = prove(measured, pre_spec=SPEC, post_spec=SPEC, copies=60)
    assert found.coverage < 0.8
    assert 2.0 < found.widening < 8.0
    wide = proven(measured, found)
    before = math.sqrt(sum(t.contribution**2 for t in measured.terms))
    after = math.sqrt(sum(t.contribution**2 for t in wide.terms))
    assert after == pytest.approx(before * found.widening, rel=1e-9)
    assert WarningCode.INTERVAL_WIDENED in {notice.code for notice in wide.warnings}


def test_a_proof_that_held_changes_nothing_but_is_kept() -> None:
    measured = change()
    kept = proven(measured, Proof(100, 96, 1.0))
    assert kept.terms == measured.terms
    assert kept.proof == Proof(100, 96, 1.0)


def test_too_few_copies_are_refused() -> None:
    with pytest.raises(UsageError, match="10 copies cannot tell"):
        prove(change(), pre_spec=SPEC, post_spec=SPEC, copies=10)


def test_it_is_told_with_the_result(tmp_path: Path) -> None:
    from filmstress.inputs.settings import from_arguments
    from filmstress.measure.wafer import measure_wafer, pair_request
    from filmstress.report.text import to_text

    pair = write_pair(tmp_path, change_per_m=0.01)
    stated = {"substrate": "Si(001)", "substrate_thickness": "525 um ± 2 um"}
    settings = from_arguments(stated, as_options=False, shared_by="wafer")
    result = measure_wafer(pair_request(*pair, settings), copies=40)
    assert "of 40 copies" in to_text(result)
    assert measure_film(*pair, **stated).lines[0].proof is None
