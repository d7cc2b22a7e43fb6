"""Measuring a lot: any executor gives the same, little crosses processes, refusals stay apart."""

from __future__ import annotations

import math
import multiprocessing
import os
import pickle
import signal
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from filmstress.errors import InternalError, RefusedInput
from filmstress.lots import batch, workers
from filmstress.lots.batch import Procedure, measure_lot
from filmstress.lots.manifest import read_lot
from filmstress.lots.slim import with_points
from filmstress.lots.workers import process_pool
from filmstress.measure.wafer import measure_wafer
from filmstress.records.lot import LotResult, LotSpec
from filmstress.records.notice import WarningCode
from filmstress.report.lot import lot_data
from filmstress.simulate.writing import write_scan
from tests.lots.writing import HEAD, write_lot

LIMITS = "[specification]\nlower = '150 MPa'\nupper = '250 MPa'\nspread_max = '40 MPa'\n"


@pytest.fixture(scope="module")
def lot(tmp_path_factory: pytest.TempPathFactory) -> LotSpec:
    folder = tmp_path_factory.mktemp("lot")
    path = write_lot(folder, {"01": 195e6, "02": 200e6, "03": 206e6}, tail=LIMITS)
    return read_lot(path)


@pytest.fixture(scope="module")
def serial(lot: LotSpec) -> LotResult:
    return measure_lot(lot)


def data(result: LotResult) -> dict[str, Any]:
    return lot_data(result, "0")


class Eager(Executor):
    """Runs at once; counts what is asked of it."""

    def __init__(self) -> None:
        self.calls = 0

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.calls += 1
        future: Future[Any] = Future()
        # As between processes: nothing goes over that cannot be pickled.
        job = pickle.loads(pickle.dumps((fn, args, kwargs)))
        future.set_result(pickle.loads(pickle.dumps(job[0](*job[1], **job[2]))))
        return future


def test_a_lot_in_its_limits_is_accepted(serial: LotResult) -> None:
    """Within three standard uncertainties of the truth each."""
    assert serial.decision == "accepted"
    assert [outcome.id for outcome in serial.wafers] == ["01", "02", "03"]
    for outcome, truth in zip(serial.wafers, (195e6, 200e6, 206e6), strict=True):
        assert outcome.stress is not None
        assert outcome.stress.u is not None
        assert abs(outcome.stress.value - truth) < 3.0 * outcome.stress.u
    assert serial.limits[0].found is not None
    assert 5e6 < serial.limits[0].found < 20e6


def test_threads_give_the_same(lot: LotSpec, serial: LotResult) -> None:
    with ThreadPoolExecutor(2) as executor:
        assert data(measure_lot(lot, executor=executor)) == data(serial)


def test_processes_give_the_same(lot: LotSpec, serial: LotResult) -> None:
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=context) as executor:
        assert data(measure_lot(lot, executor=executor)) == data(serial)


def test_any_executor_will_do_and_gets_one_job_a_wafer(lot: LotSpec, serial: LotResult) -> None:
    executor = Eager()
    assert data(measure_lot(lot, executor=executor)) == data(serial)
    assert executor.calls == 3


def test_progress_is_told_wafer_by_wafer(lot: LotSpec) -> None:
    told: list[tuple[str, int, int]] = []
    measure_lot(lot, on_progress=lambda *what: told.append(what))
    assert told == [("measuring", done, 3) for done in range(4)]


def test_what_is_proven_is_told_as_well(tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    path = write_lot(tmp_path, {"01": 200e6, "02": 249.5e6}, tail=LIMITS)
    measure_lot(read_lot(path), on_progress=lambda *what: told.append(what))
    assert told[3:] == [("proving close intervals", done, 1) for done in range(2)]


def test_a_wafer_that_kills_its_workers_is_refused_in_words(
    lot: LotSpec, serial: LotResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = batch.measure_wafer

    def deadly(wafer: Any, **stated: Any) -> Any:
        if wafer.id == "02":
            os.kill(os.getpid(), signal.SIGKILL)
        return real(wafer, **stated)

    monkeypatch.setattr(batch, "measure_wafer", deadly)
    if "fork" not in multiprocessing.get_all_start_methods():
        pytest.skip("only a fork takes the change along")
    monkeypatch.setattr(workers.threading, "active_count", lambda: 1)
    with process_pool(2) as executor:
        result = measure_lot(lot, executor=executor, workers=2)
    one, bad, other = data(result)["wafers"]
    assert [one, other] == data(serial)["wafers"][::2]
    assert bad["refusal"]["code"] == "not-measured"
    assert "twice" in bad["refusal"]["message"]
    assert result.decision == "undecided"


def test_an_unknown_substrate_is_called_so(tmp_path: Path) -> None:
    path = write_lot(
        tmp_path,
        {"01": 195e6, "02": 200e6},
        wafers={"02": 'substrate.material = "Xy(001)"'},
        tail=LIMITS,
    )
    refusal = measure_lot(read_lot(path)).wafers[1].refusal
    assert refusal is not None
    assert refusal.code == "substrate-unknown"
    assert "Xy" in refusal.message


def test_what_is_kept_does_not_grow_with_the_scans(lot: LotSpec, serial: LotResult) -> None:
    sizes = [len(pickle.dumps(outcome)) for outcome in serial.wafers]
    assert max(sizes) < 12_000  # the points of a scan would take ten times that
    points = sum(
        trace.x.size
        for outcome in serial.wafers
        if outcome.result is not None
        for line in outcome.result.lines
        for trace in (line.difference, line.post.trace)
    )
    assert points == 0
    few = measure_lot(lot, points="few")
    assert max(len(pickle.dumps(outcome)) for outcome in few.wafers) < 60_000
    assert few.wafers[0].result is not None
    assert 200 < few.wafers[0].result.lines[0].difference.x.size < 400
    assert data(few) == data(serial)
    full = measure_lot(lot, points="all")
    assert full.wafers[0].result is not None
    assert full.wafers[0].result.lines[0].difference.x.size > 500
    assert data(full) == data(serial)


def test_a_result_without_points_keeps_every_number(lot: LotSpec) -> None:
    result = measure_wafer(lot.wafers[0])
    slim = with_points(result, "none")
    for name in ("stress", "budget", "files", "warnings", "curvature_change", "bow_change"):
        assert getattr(slim, name) == getattr(result, name)
    line, before = slim.lines[0], result.lines[0]
    for field in fields(before.change):
        if field.name != "band":
            assert getattr(line.change, field.name) is getattr(before.change, field.name)
    assert line.change.band.x.size == 0
    assert line.registration == before.registration
    assert line.post.trace.keep.dtype == np.bool_
    assert line.post.trace.origin == before.post.trace.origin


def test_the_setting_is_safe_where_there_is_something_to_decide(
    lot: LotSpec, serial: LotResult
) -> None:
    def setting(result: LotResult) -> str:
        assert result.wafers[0].result is not None
        return result.wafers[0].result.lines[0].change.setting

    assert setting(serial) == "safe"
    assert setting(measure_lot(lot, procedure=Procedure("sharp"))) == "sharp"
    loose = LotSpec(lot.lot, lot.recipe, lot.path, lot.sha256, lot.wafers[:1])
    assert setting(measure_lot(loose)) == "balanced"


def test_a_wafer_that_cannot_be_read_does_not_stop_the_others(tmp_path: Path) -> None:
    path = write_lot(
        tmp_path,
        {"01": 195e6, "02": 200e6, "03": 200e6, "04": 200e6},
        wafers={"04": 'window = "0 mm..1 mm"'},
        tail=LIMITS,
    )
    (tmp_path / "post-02-0.csv").unlink()
    (tmp_path / "post-03-0.csv").write_text("no numbers here\n")
    result = measure_lot(read_lot(path))
    assert [outcome.refusal is None for outcome in result.wafers] == [True, False, False, False]
    codes = [outcome.refusal.code for outcome in result.wafers if outcome.refusal]
    assert codes == ["unreadable", "unreadable", "too-few-points"]
    assert (result.statistics.measured, result.statistics.refused) == (1, 3)
    assert result.decision == "undecided"
    assert "wafers 02, 03, 04 refused" in result.reason
    one = data(result)["wafers"][1]
    assert one["stress"] is None
    assert one["refusal"]["code"] == "unreadable"
    assert "post-02-0.csv" in one["refusal"]["message"]
    assert one["inputs"]["film"]["thickness"]["value"] == pytest.approx(500e-9)
    # The same names, whether there is a stress or not.
    assert set(one) == set(data(result)["wafers"][0])


def test_a_refused_measurement_keeps_its_curvatures(tmp_path: Path) -> None:
    path = write_lot(
        tmp_path, {"01": 195e6, "02": 200e6}, wafers={"02": 'support = "clamped"'}, tail=LIMITS
    )
    result = measure_lot(read_lot(path))
    one = result.wafers[1]
    assert one.refusal is not None
    assert one.refusal.code == "clamped"
    assert one.result is not None
    assert one.result.curvature_change.value != 0.0
    assert result.decision == "undecided"


def test_a_witness_holds_zero(tmp_path: Path) -> None:
    path = write_lot(
        tmp_path, {"01": 195e6, "W": 0.0}, wafers={"W": 'role = "witness"'}, tail=LIMITS
    )
    result = measure_lot(read_lot(path))
    witness = result.wafers[1]
    assert witness.is_witness
    assert witness.conformance_probability is None
    assert result.statistics.measured == 1
    # One wafer has no spread to be judged; its own limits it keeps.
    assert result.decision == "undecided"
    assert "the difference from wafer to wafer cannot be judged" in result.reason
    assert "witness" not in result.reason


def test_a_witness_that_moved_is_told(tmp_path: Path) -> None:
    path = write_lot(
        tmp_path,
        {"01": 195e6, "02": 200e6, "W": 50e6},
        wafers={"W": 'role = "witness"'},
        tail=LIMITS,
    )
    result = measure_lot(read_lot(path))
    assert result.decision == "undecided"
    assert "witness wafer W does not hold zero" in result.reason


def test_exchanged_scans_are_suspected(tmp_path: Path) -> None:
    path = write_lot(tmp_path, {"01": 195e6, "02": 200e6, "03": 198e6})
    first, second = tmp_path / "post-01-0.csv", tmp_path / "post-02-0.csv"
    between = tmp_path / "between"
    first.rename(between)
    second.rename(first)
    between.rename(second)
    result = measure_lot(read_lot(path))
    suspected = [
        outcome.id
        for outcome in result.wafers
        if outcome.result is not None
        and any(notice.code is WarningCode.SWAP_SUSPECTED for notice in outcome.result.warnings)
    ]
    assert suspected == ["01", "02"]


def test_repeats_stand_as_entries_of_one_azimuth(tmp_path: Path) -> None:
    path = write_lot(tmp_path, {"01": 195e6}, repeats=3)
    (outcome,) = measure_lot(read_lot(path)).wafers
    assert outcome.result is not None
    assert len(outcome.result.lines) == 3
    assert len(outcome.result.stress_by_direction) == 1


def test_a_fault_of_the_program_names_the_wafer(
    lot: LotSpec, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(wafer: Any, **stated: Any) -> None:
        raise ZeroDivisionError("by zero" if wafer.id == "02" else "elsewhere")

    monkeypatch.setattr(batch, "measure_wafer", broken)
    with pytest.raises(InternalError, match="wafer 01: ZeroDivisionError: elsewhere") as caught:
        measure_lot(lot)
    assert "report" in caught.value.hint
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def wavy_stage(x_m: np.ndarray) -> np.ndarray:
    """A stage that is not straight: three waves of 400 nm, for one alone would be fitted along."""
    return sum(400e-9 * np.sin(2.0 * math.pi * x_m / length) for length in (25e-3, 17e-3, 11e-3))


@pytest.fixture
def beside(tmp_path: Path) -> Path:
    """Every wafer lies 2 mm beside its old place, so that the stage does not cancel."""
    head = HEAD.replace("[scan]\n", '[scan]\ndatum = "from-lot"\norigin = "-75 mm"\n')
    path = write_lot(tmp_path, dict.fromkeys([f"{i:02}" for i in range(6)], 200e6), head=head)
    for scan in tmp_path.glob("*.csv"):
        x, z = points_of(scan)
        x = x - x[0] + (17e-3 if scan.name.startswith("post") else 15e-3)
        scan.unlink()
        write_scan(x, z + wavy_stage(x), scan)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('post = "', 'post_origin = "-77 mm", post = "'), encoding="utf-8")
    return path


def points_of(scan: Path) -> np.ndarray:
    return np.loadtxt(scan, delimiter=",", skiprows=1, unpack=True) * [[1e-3], [1e-6]]


def test_the_stage_may_be_found_from_the_lot(beside: Path) -> None:
    plain = beside.with_name("plain.toml")
    plain.write_text(beside.read_text().replace('datum = "from-lot"\n', ""))

    def residuals(lot_file: Path) -> float:
        result = measure_lot(read_lot(lot_file))
        return float(
            np.mean([o.result.lines[0].change.residual_rms for o in result.wafers if o.result])
        )

    assert residuals(beside) < 0.5 * residuals(plain)
    told: list[str] = []
    alone = measure_lot(read_lot(beside), on_progress=lambda what, *_: told.append(what))
    assert list(dict.fromkeys(told)) == ["finding the stage's straightness", "measuring"]
    with ThreadPoolExecutor(3) as executor:
        assert data(measure_lot(read_lot(beside), executor=executor)) == data(alone)


def test_the_stage_is_found_from_heights_counted_downwards(beside: Path) -> None:
    upright = measure_lot(read_lot(beside))
    for scan in beside.parent.glob("*.csv"):
        x, z = points_of(scan)
        scan.unlink()
        write_scan(x, -z, scan)
    beside.write_text(beside.read_text().replace("[scan]\n", "[scan]\nheight_up = false\n"))
    turned = measure_lot(read_lot(beside))
    for one, other in zip(upright.wafers, turned.wafers, strict=True):
        assert one.stress is not None
        assert other.stress is not None
        assert other.stress.value == pytest.approx(one.stress.value, rel=1e-6)


def test_too_few_wafers_do_not_tell_the_stage(tmp_path: Path) -> None:
    path = write_lot(
        tmp_path, {"01": 200e6}, head=HEAD.replace("[scan]\n", '[scan]\ndatum = "from-lot"\n')
    )
    with pytest.raises(RefusedInput, match="cannot tell the stage"):
        measure_lot(read_lot(path))
