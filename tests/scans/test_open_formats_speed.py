"""X3P and binary SDF are read about as fast as their bytes can be hashed; the benchmark
``tests.benchmarks.open_formats`` tells by how much."""

from __future__ import annotations

from pathlib import Path

import sdfio

from filmstress.scans.reading.scan_file import read_scan
from tests.benchmarks.open_formats import best, no_hashes, write_profile_x3p, write_sdf

POINTS = 500_000
# Far below what any machine of this decade does, and far above reading number by number.
FLOOR_GB_PER_S = 0.1


def rate(path: Path, size: int) -> float:
    return size / best(lambda: read_scan(path), runs=4) / 1e9


def test_x3p(tmp_path: Path):
    path = tmp_path / "scan.x3p"
    size = write_profile_x3p(path, POINTS)
    assert rate(path, size) > FLOOR_GB_PER_S / 2  # SHA-256 and MD5 with it
    with no_hashes():
        assert rate(path, size) > FLOOR_GB_PER_S


def test_sdf(tmp_path: Path):
    path = tmp_path / "scan.sdf"
    assert rate(path, write_sdf(path, POINTS, sdfio.FileFormat.BINARY)) > FLOOR_GB_PER_S / 2
