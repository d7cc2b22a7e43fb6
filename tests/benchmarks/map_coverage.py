"""How often the 95 % intervals of a mapped wafer's stresses hold, under noise over the plane.

    python -m tests.benchmarks.map_coverage [--maps 150] [--kind rough-20] [--apart]

Two maps of 120 mm, lines at 0, 45, 90 and 135 deg, film of +2 and -1 MPa, so that next to nothing
but the noise is uncertain.  Kinds: white, and noise correlated as exp(-d / l) over l millimetres.
``--apart`` takes the lines for independent of one another, as they are not.
"""

from __future__ import annotations

import argparse
import math

import numpy as np

from filmstress.measure import wafer as measuring
from filmstress.measure.wafer import measure_wafer
from filmstress.records.quantity import Estimate
from filmstress.simulate.maps import simulate_maps
from filmstress.simulate.truth import Truth
from tests.measure._maps import reader, request

KINDS: dict[str, dict[str, float]] = {
    "white": {"white_noise_m": 20e-9},
    **{
        f"rough-{length}": {
            "white_noise_m": 5e-9,
            "correlated_noise_m": 20e-9,
            "correlation_length_m": length * 1e-3,
        }
        for length in (2, 20, 60)
    },
}
HIGH_PA, LOW_PA = 2e6, -1e6
EXACT = {
    "substrate_thickness": "525 um (exact)",
    "film_thickness": "1 um (exact)",
    "position_scale_uncertainty": "0 %",
    "height_scale_uncertainty": "0 %",
}


def _truth(kind: str, seed: int) -> Truth:
    return Truth(
        substrate_thickness_m=525e-6,
        diameter_m=150e-3,
        stress_x_pa=HIGH_PA,
        stress_y_pa=LOW_PA,
        stress_axis_rad=math.radians(20.0),
        film_thickness_m=1e-6,
        scan_length_m=120e-3,
        points=121,
        bare_bow_m=5e-6,
        waviness_rms_m=20e-9,
        waviness_length_m=1.5e-3,
        seed=seed,
        **KINDS[kind],
    )


def held(kind: str, maps: int, *, first: int = 0) -> np.ndarray:
    """Whether the intervals of mean, higher and lower principal stress held, a row a wafer."""
    wafer = request([{"pre": "pre", "post": "post"}], **EXACT)
    rows = []
    for seed in range(first, first + maps):
        drawn = simulate_maps(_truth(kind, seed))
        read = reader({"pre": drawn.pre, "post": drawn.post})
        result = measure_wafer(wafer, read=read, in_brief=True)
        if result.stress is None or result.principal is None:
            raise RuntimeError(f"wafer {seed} was refused")
        rows.append(
            [
                _holds(result.stress, 0.5 * (HIGH_PA + LOW_PA)),
                _holds(result.principal.high, HIGH_PA),
                _holds(result.principal.low, LOW_PA),
            ]
        )
    return np.array(rows)


def _holds(found: Estimate, truth: float) -> bool:
    expanded = found.expanded
    return expanded is not None and abs(found.value - truth) <= expanded


def main() -> None:
    """Print a row for each kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--maps", type=int, default=150)
    parser.add_argument("--kind", choices=list(KINDS), action="append")
    parser.add_argument("--apart", action="store_true")
    asked = parser.parse_args()
    if asked.apart:
        measuring.with_shared_maps = lambda wafer, files, lines: tuple(lines)  # noqa: ARG005
    print(f"{'noise':12}{'mean':>8}{'higher':>8}{'lower':>8}")
    for kind in asked.kind or KINDS:
        shares = "".join(f"{share:8.3f}" for share in held(kind, asked.maps).mean(axis=0))
        print(f"{kind:12}{shares}", flush=True)


if __name__ == "__main__":
    main()
