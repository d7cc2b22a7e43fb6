"""Small truths that the tests start from."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from filmstress.simulate.truth import Truth


def quiet(**changes: Any) -> Truth:
    """A wafer without waviness, stage error, noise or trouble."""
    base = Truth(
        substrate="Si(001)",
        azimuth_reference="[110]",
        substrate_thickness_m=525e-6,
        diameter_m=100e-3,
        stress_x_pa=100e6,
        film_thickness_m=1e-6,
        scan_length_m=90e-3,
        points=901,
    )
    return replace(base, **changes)
