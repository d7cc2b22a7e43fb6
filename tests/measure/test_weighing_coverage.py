"""How often the interval of the film by the wafer's weight holds the truth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binom

from filmstress.simulate.writing import write_pair
from tests.measure.test_weighing import FORCE, TRUTH, weighed


@pytest.mark.slow
def test_intervals_hold_the_truth(tmp_path: Path) -> None:
    """30 wafers, everything stated drawn anew: radii, diameter, thickness, repeatabilities.

    A correct 95 % interval holds the truth in 25 or more of 30 with probability 0.9967.
    """
    wafers, held_by_weight, held_combined = 30, 0, 0
    rng = np.random.default_rng(20)
    for number in range(wafers):
        sizes, spreads = (37.5, 67.0, 150.0, 675.0), (0.15, 0.15, 0.1, 6.0)
        inner, outer, width, thick = rng.normal(sizes, spreads).tolist()
        truth = replace(
            TRUTH,
            substrate_thickness_m=thick * 1e-6,
            diameter_m=width * 1e-3,
            points=301,
            bow_repeatability_m=15e-9,
            height_scale=1.0 + float(rng.normal(scale=0.005)),
            weighed_on=(
                f"three-points {inner:.6f} mm 30 deg",
                f"three-points {outer:.6f} mm 30 deg",
            ),
            seed=number,
        )
        write_pair(truth, tmp_path / f"{number}")
        found = weighed(
            tmp_path / f"{number}",
            weight_first_support_radius="37.5 mm ± 0.15 mm",
            weight_second_support_radius="67 mm ± 0.15 mm",
            bow_repeatability="15 nm",
            substrate_thickness="675 um ± 6 um",
        )
        told = found.by_weight.force_per_width
        held_by_weight += told.low < FORCE < told.high
        both = (found.combined or found.by_weight).force_per_width
        held_combined += both.low < FORCE < both.high
    assert binom.sf(24, wafers, 0.95) > 0.996
    assert held_by_weight >= 25
    assert held_combined >= 25
