"""The small version of the benchmark `lot_scale`: memory, and that both programs do one job."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.benchmarks import lot_scale, plain_script


@pytest.mark.skipif(sys.platform != "linux", reason="memory as Linux gives it")
def test_memory_does_not_grow_with_the_scans_of_a_lot(tmp_path: Path) -> None:
    """The points of one of these wafers' scans and differences would take 400 kB."""
    used = {}
    for wafers in (10, 110):
        folder = tmp_path / str(wafers)
        folder.mkdir()
        lot, _ = lot_scale.write_lot(folder, wafers, 4000)
        used[wafers] = lot_scale.highest_memory(lot_scale.program(lot, "--jobs", "2", "--json"))
    assert used[110] - used[10] < 100 * 0.1


def test_the_plain_script_measures_the_same_lot(tmp_path: Path) -> None:
    lot, paths = lot_scale.write_lot(tmp_path, 3, 2000)
    one, other = (
        subprocess.run(command, capture_output=True, text=True, check=True).stdout
        for command in (
            [sys.executable, str(Path(plain_script.__file__)), *paths],
            lot_scale.program(lot, "--json"),
        )
    )
    plain = [float(line.partition("+/-")[0].lstrip("(")) for line in one.splitlines()]
    ours = [wafer["stress_stoney"]["value"] / 1e6 for wafer in json.loads(other)["wafers"]]
    # The same equation on the same scans; the constants and the offset found differ by little.
    assert ours == pytest.approx(plain, rel=0.02)


def test_the_result_does_not_depend_on_threads_of_the_linear_algebra(tmp_path: Path) -> None:
    """Long scans, for only of long vectors are the sums shared out."""
    lot, _ = lot_scale.write_lot(tmp_path, 2, 30_000)
    one, other = (
        subprocess.run(
            lot_scale.program(lot, "--json"),
            env=os.environ | {"OPENBLAS_NUM_THREADS": threads, "OMP_NUM_THREADS": threads},
            capture_output=True,
            check=True,
        ).stdout
        for threads in ("1", "2")
    )
    assert one == other
