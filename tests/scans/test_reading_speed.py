"""Reading a text file with all checks costs hardly more than ``np.loadtxt`` alone.

The least ratio of several turns is taken, so that a busy machine does not matter: what others do at
the same time can only add to one of the two.  ``tests.benchmarks.text_reading`` measures it well.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from filmstress.scans.reading.scan_file import read_scan
from tests.benchmarks.text_reading import STYLES, plainly, ratios, write

# The aim; met with room to spare where the file is as long as a scan mostly is.
MOST = 1.15


@pytest.mark.parametrize("style", STYLES)
def test_no_style_is_much_slower_than_bare_numpy(tmp_path: Path, style: str) -> None:
    path = write(tmp_path / "scan", STYLES[style], 20_000)
    best = min(min(ratios(path, STYLES[style], 3)[0]) for _ in range(2))
    assert best <= MOST


@pytest.mark.parametrize("style", STYLES)
def test_they_read_the_same(tmp_path: Path, style: str) -> None:
    path = write(tmp_path / "scan", STYLES[style], 500)
    scan = read_scan(path)
    table = np.asarray(plainly(path, STYLES[style]))[:, -2:]
    metres = "[m]" in STYLES[style].head
    np.testing.assert_array_equal(scan.x, table[:, 0] * (1.0 if metres else 1e-3))
    np.testing.assert_array_equal(scan.z, table[:, 1] * (1.0 if metres else 1e-6))
