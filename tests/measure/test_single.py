"""A scan by itself: what makes its uncertainty one that cannot be believed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from filmstress.measure.single import InspectedScan, inspect_file
from filmstress.records.notice import WarningCode
from filmstress.records.scan import ReadingOptions

X = np.linspace(-50.0, 50.0, 201)


def codes(path: Path, heights: np.ndarray) -> set[WarningCode]:
    rows = (f"{x!r},{z!r}" for x, z in zip(X.tolist(), heights.tolist(), strict=True))
    path.write_text("\n".join(["x [mm],z [um]", *rows, ""]), encoding="utf-8")
    (found,) = inspect_file(str(path), ReadingOptions())
    assert isinstance(found, InspectedScan)
    return {notice.code for notice in found.curvature.warnings}


@pytest.mark.parametrize("heights", [0.0 * X, 0.5 + 0.0 * X, 0.25 * X, 0.002 * X**2])
def test_heights_without_any_noise_were_not_measured(heights: np.ndarray, tmp_path: Path) -> None:
    assert WarningCode.UNCERTAINTY_NOT_ESTABLISHED in codes(tmp_path / "scan.csv", heights)


def test_a_tenth_of_a_nanometre_of_noise_may_have_been_measured(tmp_path: Path) -> None:
    noise = np.random.default_rng(3).normal(0.0, 1e-4, X.size)
    found = codes(tmp_path / "scan.csv", 0.002 * X**2 + noise)
    assert WarningCode.UNCERTAINTY_NOT_ESTABLISHED not in found
