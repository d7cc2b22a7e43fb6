"""Film thickness from several steps and files: mean, budget, what scatters, what is refused."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from filmstress.errors import MeasurementRefused, RefusedInput, ScanError, UsageError
from filmstress.measure.thickness import measure_thickness
from filmstress.records.quantity import Measured, Source
from filmstress.records.step import FilmThickness
from tests.scans.step_scans import HEIGHT, X, film, form, noise, scan_of, write

UM = 1e-6
SCALE = Measured(1.0, "1", 0.005)
EXACT = Measured(1.0, "1", 0.0)
GROOVE = (400 * UM, 600 * UM)


@pytest.fixture
def scans(tmp_path: Path) -> list[str]:
    """Three scans over one groove."""
    return [
        write(tmp_path / f"{i}.csv", scan_of(X, film(*GROOVE) + form(1e-6, 1e-7) + noise(i)))
        for i in range(3)
    ]


def rows(found: FilmThickness) -> dict[str, float]:
    return {row.term.input: row.term.contribution for row in found.budget.rows}


def test_one_step(scans: list[str]) -> None:
    found = measure_thickness(scans[:1], height_scale=SCALE)
    step = found.scans[0].steps[0]
    parts = rows(found)
    assert set(parts) == {"noise and roughness", "height scale"}
    assert parts["height scale"] == pytest.approx(0.005 * step.thickness)
    assert parts["noise and roughness"] == pytest.approx(step.u)
    assert found.thickness.value == step.thickness
    # JCGM 100:2008, equation 10.
    assert found.thickness.u == pytest.approx(math.hypot(step.u, 0.005 * step.thickness))
    assert found.thickness.low is not None
    assert found.thickness.high is not None
    assert found.thickness.low < HEIGHT < found.thickness.high


def test_files_of_unlike_steps_scatter_with_few_degrees_of_freedom(tmp_path: Path) -> None:
    heights = [90e-9, 100e-9, 110e-9]
    paths = [
        write(tmp_path / f"{i}.csv", scan_of(X, film(*GROOVE, height=h) + noise(i, size_m=1e-10)))
        for i, h in enumerate(heights)
    ]
    found = measure_thickness(paths, height_scale=EXACT)
    # One-way: the standard deviation of the mean, n - 1 degrees of freedom, t = 4.30 (JCGM
    # 100:2008, table G.2).
    assert found.thickness.value == pytest.approx(100e-9, rel=1e-3)
    assert found.thickness.u == pytest.approx(np.std(heights, ddof=1) / math.sqrt(3), rel=0.01)
    assert found.thickness.dof in {1.0, 2.0}
    assert rows(found)["between files"] > 10 * rows(found)["noise and roughness"]
    assert "steps-differ" in {notice.code for notice in found.warnings}


def test_steps_of_one_scan_that_scatter(tmp_path: Path) -> None:
    z = np.zeros(X.size)
    heights = [95e-9, 105e-9, 100e-9]
    for number, height in enumerate(heights):
        middle = (200 + 300 * number) * UM
        z[np.abs(X - middle) < 40 * UM] += height
    found = measure_thickness(
        [write(tmp_path / "a.csv", scan_of(X, z + noise(1, size_m=1e-10)))], height_scale=EXACT
    )
    assert [step.thickness for step in found.scans[0].steps] == pytest.approx(heights, rel=2e-3)
    assert found.thickness.u == pytest.approx(np.std(heights, ddof=1) / math.sqrt(3), rel=0.02)
    assert "between steps" in rows(found)


def test_steps_that_share_a_level_do_not_count_as_independent(tmp_path: Path) -> None:
    edges = np.arange(100, 1000, 100) * UM
    found = measure_thickness(
        [write(tmp_path / "a.csv", scan_of(X, film(*edges) + noise(3)))], height_scale=EXACT
    )
    steps = found.scans[0].steps
    independent = math.sqrt(sum(step.u**2 for step in steps)) / len(steps)
    own = rows(found)["noise and roughness"]
    assert independent < own <= math.sqrt(2.0) * independent
    assert "step-cut-short" in {notice.code for notice in found.warnings}


FILES, LOTS = 3, 50


def test_the_interval_of_repeats_holds(tmp_path: Path) -> None:
    """Fails for a correct program (coverage 0.92 or more) once in 10,000 runs."""
    rng = np.random.default_rng(8)
    held = 0
    for lot in range(LOTS):
        paths = []
        for number in range(FILES):
            height = HEIGHT + rng.normal(0.0, 1.5e-9)
            z = film(*GROOVE, height=height)[::5] + noise(1000 + 3 * lot + number)[::5]
            paths.append(write(tmp_path / f"{lot}-{number}.csv", scan_of(X[::5], z)))
        found = measure_thickness(paths, height_scale=EXACT).thickness
        assert found.low is not None
        assert found.high is not None
        held += found.low <= HEIGHT <= found.high
    assert held >= int(binom.ppf(1e-4, LOTS, 0.92))


def test_a_straight_line_pays_for_the_bow_it_leaves_out(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", scan_of(X, film(*GROOVE) + form(0.0, 2e-7) + noise(2)))
    curved = measure_thickness([path], height_scale=EXACT)
    straight = measure_thickness([path], height_scale=EXACT, straight=True)
    apart = abs(straight.thickness.value - curved.thickness.value)
    assert apart > 5e-9
    assert rows(straight)["bow left out"] == pytest.approx(apart / math.sqrt(3.0))
    assert "bow left out" not in rows(curved)
    assert straight.thickness.low is not None
    assert straight.thickness.low < HEIGHT


def test_coarse_digits_are_not_averaged_away(tmp_path: Path) -> None:
    """Of a rounding u is 0.29 of it (JCGM 100:2008, F.2.2.1); of the difference of two, 0.41."""
    z = np.round((film(*GROOVE) + 3e-9 + noise(4)) / 10e-9) * 10e-9
    coarse = measure_thickness([write(tmp_path / "a.csv", scan_of(X, z))], height_scale=EXACT)
    assert rows(coarse)["digits of the heights"] == pytest.approx(0.41 * 10e-9, rel=0.01)
    fine = np.round((film(*GROOVE) + noise(4)) / 1e-10) * 1e-10
    found = measure_thickness([write(tmp_path / "b.csv", scan_of(X, fine))], height_scale=EXACT)
    assert "digits of the heights" not in rows(found)


def test_a_default_scale_is_told(scans: list[str]) -> None:
    scale = Measured(1.0, "1", 0.005, source=Source.DEFAULT)
    found = measure_thickness(scans, height_scale=scale)
    assert [notice.code for notice in found.warnings] == ["default-used"]


def test_the_same_bytes_are_no_repeat(scans: list[str], tmp_path: Path) -> None:
    copy = tmp_path / "copy.csv"
    copy.write_bytes(Path(scans[0]).read_bytes())
    with pytest.raises(RefusedInput, match="very bytes"):
        measure_thickness([scans[0], str(copy)], height_scale=SCALE)
    with pytest.raises(RefusedInput, match="very bytes"):
        measure_thickness([scans[0], scans[0]], height_scale=SCALE)


def test_a_thickness_not_told_from_zero_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv", scan_of(X, noise(5)))
    with pytest.raises(MeasurementRefused, match=r"told from zero|below its substrate") as refused:
        measure_thickness([path], height_scale=SCALE, edges_m=GROOVE)
    assert refused.value.code == "no-step"


def test_no_scan_is_no_thickness() -> None:
    with pytest.raises(UsageError, match="no scan"):
        measure_thickness([])


def test_short_scans_are_read_and_absurd_ones_are_not(tmp_path: Path) -> None:
    """A step may be scanned over 200 um; 10 um, or what is meant in mm, is refused as ever."""
    z = film(*GROOVE) + noise(6)
    short = write(tmp_path / "short.csv", scan_of(0.2 * X, z))
    assert measure_thickness([short], height_scale=SCALE).thickness.value == pytest.approx(
        HEIGHT, rel=0.02
    )
    with pytest.raises(ScanError, match="want 20 um to 1 m"):
        measure_thickness([write(tmp_path / "tiny.csv", scan_of(0.01 * X, z))], height_scale=SCALE)
