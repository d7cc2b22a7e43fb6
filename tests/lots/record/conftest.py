"""A lot with two records."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.lots.record.chains import (
    LIMITS,
    recorded,
)
from tests.lots.writing import write_lot


@pytest.fixture(scope="module")
def origin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lot of two simulated wafers with two records."""
    folder = tmp_path_factory.mktemp("origin")
    path = write_lot(folder, {"01": 195e6, "02": 205e6}, tail=LIMITS)
    recorded(path)
    recorded(path)
    return folder


@pytest.fixture
def lot(origin: Path, tmp_path: Path) -> Path:
    """A copy to harm; moved together, a record still finds its files."""
    return Path(shutil.copytree(origin, tmp_path / "lot"))
