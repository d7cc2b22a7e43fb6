"""``inspect`` of a map: its curvatures as a whole beside two of its lines."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from filmstress.records.scan import HeightMap
from tests.benchmarks.surface_coverage import SOURCE
from tests.cli._contract import check, check_quantity
from tests.cli._run import run
from tests.measure._maps import write_sdf

AXIS = np.linspace(0.0, 90e-3, 91)


@pytest.fixture
def path(tmp_path: Path) -> str:
    x, y = np.meshgrid(AXIS - 45e-3, AXIS - 45e-3)
    z = 5e-3 * x**2 - 2e-3 * y**2 + 1e-3 * x * y
    z += 1e-8 * np.random.default_rng(1).normal(size=z.shape)
    z[np.hypot(x, y) > 45.001e-3] = np.nan
    return write_sdf(tmp_path / "map.sdf", HeightMap(AXIS, AXIS, z, SOURCE))


def test_json_holds_maps_beside_scans(path: str) -> None:
    ended = run("inspect", path, "--json")
    assert ended.code == 0
    check(ended.data)
    assert [one["file"] for one in ended.data["scans"]] == [path, path]
    (one,) = ended.data["maps"]
    assert one["file"] == path
    assert one["points"] == one["points_used"] == 6361
    surface = one["surface"]
    for key, want in (("xx", 10e-3), ("yy", -4e-3), ("xy", 1e-3), ("mean", 3e-3)):
        quantity = surface[f"curvature_{key}"]
        check_quantity(quantity)
        # Once in some thousand draws three intervals of 95 % do not hold.
        assert abs(quantity["value"] - want) < 2.0 * quantity["expanded_uncertainty"]
    for quantity in surface["principal_curvatures"].values():
        check_quantity(quantity)
    correlation = np.array(surface["correlation_xx_yy_xy"]["values"])
    assert np.diag(correlation) == pytest.approx(1.0)
    # The mean's variance is that of both and what they have in common.
    xx, yy, mean = (
        surface[f"curvature_{key}"]["standard_uncertainty"] for key in ("xx", "yy", "mean")
    )
    want = 0.25 * (xx**2 + yy**2 + 2.0 * correlation[0, 1] * xx * yy)
    assert mean**2 == pytest.approx(want)
    assert one["warnings"] == []


def test_maps_is_always_a_list(path: str) -> None:
    assert run("inspect", "nothere.csv", "--json").data["maps"] == []
    line = run("inspect", path, "--azimuth", "30 deg", "--json").data
    assert line["maps"] == []
    assert len(line["scans"]) == 1


def test_words_name_every_curvature(path: str) -> None:
    ended = run("inspect", path)
    whole, *lines = ended.out.split("\n\n")
    assert len(lines) == 2
    assert whole.startswith(f"{path}, the whole map\n")
    for words in ("along x", "along y", "twist", "mean curvature", "principal", "across it"):
        assert words in whole
    assert "91 x 91 points, 6361 of them with a height" in whole


def test_a_map_too_small_for_a_surface_still_shows_its_lines(tmp_path: Path) -> None:
    z = np.full((91, 91), np.nan)
    z[45, :] = z[:, 45] = 0.0
    z[45, 20:70] = 1e-7
    ended = run("inspect", write_sdf(tmp_path / "cross.sdf", HeightMap(AXIS, AXIS, z, SOURCE)))
    assert ended.code == 3
    assert ended.out.count("the line at") == 2


def test_a_large_map_is_inspected_at_once() -> None:
    """A million heights: 2 s alone; the bound leaves room for a busy machine."""
    from filmstress.measure.single import _inspected_map

    axis = np.linspace(-60e-3, 60e-3, 1000)
    x, y = np.meshgrid(axis, axis)
    z = 1e-2 * x * y + 1e-8 * np.random.default_rng(2).normal(size=x.shape)
    start = time.process_time()
    assert len(_inspected_map(HeightMap(axis, axis, z, SOURCE))) == 3
    assert time.process_time() - start < 6.0
