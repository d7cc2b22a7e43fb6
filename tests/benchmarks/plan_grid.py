"""Whether plans come true: predicted uncertainty against that of simulated measurements.

    python -m tests.benchmarks.plan_grid [--plans 50] [--seed 1]

Each plan's expanded uncertainty is compared with the median of what `measure_film` gives for pairs
of scans that `filmstress.simulate` draws with the stated noise, from files.  The share of plans
within 15 % is printed, and the worst.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from filmstress.inputs.settings import from_arguments
from filmstress.measure.wafer import measure_film, pair_request
from filmstress.planning.planning import plan
from filmstress.records.plan import Instrument
from filmstress.simulate.truth import Truth
from filmstress.simulate.writing import write_pair

PAIRS = 7


@dataclass(frozen=True)
class Row:
    """One plan: its settings, U as planned and as found [Pa]."""

    stated: dict[str, str]
    instrument: Instrument
    stress: float
    planned: float
    found: float

    @property
    def ratio(self) -> float:
        return self.planned / self.found


def draw(rng: np.random.Generator) -> tuple[dict[str, str], Instrument, float]:
    """A plan somebody might make."""
    diameter, thickness = [(100, 525), (150, 675), (200, 725)][rng.integers(3)]
    film = float(rng.choice([100.0, 300.0, 1000.0]))
    stated = {
        "substrate": "Si(001)",
        "azimuth_reference": "[110]",
        "diameter": f"{diameter} mm",
        "substrate_thickness": f"{thickness} um ± {rng.choice([1, 3, 10])} um",
        "film_thickness": f"{film:g} nm ± {rng.choice([0.5, 2, 5])} %",
        "bow_repeatability": f"{rng.choice([0, 10, 50])} nm",
        "offset_repeatability": "50 um",
    }
    instrument = Instrument(
        length_m=1e-3 * diameter * float(rng.choice([0.5, 0.7, 0.9])),
        points=int(rng.choice([500, 2000])),
        noise_m=1e-9 * float(rng.choice([2, 20])),
        drift_m=1e-9 * float(rng.choice([0, 5, 30])),
        drift_length_m=3e-3,
    )
    return stated, instrument, 1e6 * float(rng.choice([-300, -50, 0, 100]))


def compare(stated: dict[str, str], instrument: Instrument, stress: float, folder: Path) -> Row:
    """Plan, and measure what was planned."""
    wafer = pair_request("a", "b", from_arguments(stated, as_options=False, shared_by="wafer"))
    made = plan(wafer, instrument, stress_pa=stress)
    truth = Truth(
        substrate=stated["substrate"],
        azimuth_reference=stated["azimuth_reference"],
        substrate_thickness_m=wafer.substrate.thickness.value,
        diameter_m=wafer.substrate.diameter.value if wafer.substrate.diameter else 0.0,
        stress_x_pa=stress,
        film_thickness_m=wafer.film.thickness.value if wafer.film.thickness else 0.0,
        scan_length_m=instrument.length_m,
        points=instrument.points,
        waviness_rms_m=instrument.waviness_m,
        waviness_length_m=instrument.waviness_length_m,
        white_noise_m=instrument.noise_m,
        correlated_noise_m=instrument.drift_m,
        correlation_length_m=instrument.drift_length_m,
    )
    found = []
    for seed in range(PAIRS):
        place = folder / str(seed)
        write_pair(Truth(**{**_fields(truth), "seed": 100 + seed}), place)
        pre, post = (next(place.glob(f"{name}*")) for name in ("pre", "post"))
        result = measure_film(pre, post, **stated)  # type: ignore[arg-type]
        assert result.stress is not None
        found.append(result.stress.expanded or 0.0)
    return Row(stated, instrument, stress, made.stress.expanded or 0.0, statistics.median(found))


def _fields(truth: Truth) -> dict[str, object]:
    return {name: getattr(truth, name) for name in truth.__dataclass_fields__}


def grid(plans: int, seed: int) -> list[Row]:
    """Some plans, compared."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(plans):
        with tempfile.TemporaryDirectory() as folder:
            rows.append(compare(*draw(rng), Path(folder)))
    return rows


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--plans", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rows = grid(asked.plans, asked.seed)
    for row in sorted(rows, key=lambda row: row.ratio):
        told = f"{row.planned / 1e6:8.2f} MPa planned, {row.found / 1e6:8.2f} found"
        print(f"{row.ratio:.3f}  {told}  {row.instrument}")
    within = sum(abs(row.ratio - 1.0) <= 0.15 for row in rows)
    print(f"{within} of {len(rows)} plans within 15 %")


if __name__ == "__main__":
    main()
