"""A scan of a flat takes the stage's straightness out of a re-loaded wafer."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from filmstress.measure.wafer import measure_film
from tests.measure._pairs import LENGTH_M, POINTS, waviness, write_scan

STATED = {
    "substrate": "Si(001)",
    "substrate_thickness": "525 um ± 2 um",
    "film_thickness": "1.00 um ± 2 %",
    "support": "three-points",
}
CHANGE = 0.002
STAGE = waviness(77, rms_m=200e-9, shortest_m=15e-3)


def scans(folder: Path, *, up: bool) -> tuple[str, str, str]:
    """Before, after (the wafer re-loaded 2 mm beside), and a flat, on a stage of 200 nm."""
    x = np.linspace(0.0, LENGTH_M, POINTS)
    own, rng = waviness(3), np.random.default_rng(8)
    at = x - LENGTH_M / 2
    sign = 1.0 if up else -1.0
    heights = {
        "pre": own(at) + 0.5 * 0.004 * at**2 + STAGE(x),
        "post": own(at + 2e-3) + 0.5 * (0.004 + CHANGE) * (at + 2e-3) ** 2 + STAGE(x),
        "flat": STAGE(x),
    }
    return tuple(  # type: ignore[return-value]
        write_scan(folder / f"{name}.csv", x, sign * (z + rng.normal(scale=2e-9, size=x.size)))
        for name, z in heights.items()
    )


@pytest.mark.parametrize("up", [True, False])
def test_the_datum_mends_what_the_stage_spoils(tmp_path: Path, up: bool) -> None:
    pre, post, flat = scans(tmp_path, up=up)
    stated = {**STATED, "height_up": "yes" if up else "no"}
    without = measure_film(pre, post, **stated)
    with_datum = measure_film(pre, post, **stated, datum=flat)
    place = with_datum.lines[0].registration
    assert place is not None
    assert place.offset_m == pytest.approx(2e-3, abs=50e-6)
    error = [abs(r.curvature_change.value - CHANGE) for r in (without, with_datum)]
    assert error[1] < 0.02 * CHANGE
    assert error[1] < 0.2 * error[0]
    assert any(state == "datum" for state, _ in with_datum.files)
