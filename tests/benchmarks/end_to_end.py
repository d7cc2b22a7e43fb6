"""How often the printed interval holds the true stress, from files to result.

    python -m tests.benchmarks.end_to_end [--pairs 200] [--seed 1] [--out DIR]

Every pair is drawn with its own true thicknesses, scales, bow drift and noise, all within what is
then stated about them; families differ in noise, waviness, offset, dust.  Prints a table of
coverage (nominal 95 %) and the mean half-width, and writes it as CSV with ``--out``.
"""

from __future__ import annotations

import argparse
import csv
import math
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from filmstress.inputs.settings import from_arguments
from filmstress.measure.wafer import measure_wafer, pair_request
from filmstress.records.result import StressResult
from filmstress.simulate.truth import ScanConditions, Truth
from filmstress.simulate.writing import write_pair

NOMINAL = 0.95


@dataclass(frozen=True)
class Family:
    """A kind of measurement: its name and what is drawn beside the defaults."""

    name: str
    truth: dict[str, float]
    pre: dict[str, float]
    post: dict[str, float]
    stress_pa: float = 200e6


BASE = {"white_noise_m": 5e-9, "waviness_rms_m": 50e-9, "bare_bow_m": 4e-6}
FAMILIES = (
    Family("white noise", BASE, {}, {}),
    Family(
        "correlated 1 mm",
        BASE | {"correlated_noise_m": 10e-9, "correlation_length_m": 1e-3},
        {},
        {},
    ),
    Family(
        "correlated 6 mm",
        BASE | {"correlated_noise_m": 10e-9, "correlation_length_m": 6e-3},
        {},
        {},
    ),
    Family("bow drift 10 nm", BASE | {"bow_repeatability_m": 10e-9}, {}, {}),
    Family(
        "reloaded 0.4 mm beside, stage 30 nm",
        BASE | {"stage_rms_m": 30e-9, "bare_cubic_share": 0.2},
        {},
        {"lateral_offset_m": 0.4e-3},
    ),
    Family("ten particles", BASE, {"dust_count": 10}, {"dust_count": 10}),
    Family("weak film, 2 MPa", BASE | {"correlated_noise_m": 10e-9}, {}, {}, 2e6),
)


def measured(family: Family, seed: int, folder: Path) -> StressResult:
    """Draw one pair and measure it, knowing only what would be stated."""
    rng = np.random.default_rng([seed, 7])
    stated = {"substrate_thickness_m": 525e-6, "film_thickness_m": 500e-9}
    truth = Truth(
        substrate="Si(001)",
        substrate_thickness_m=stated["substrate_thickness_m"] + 2e-6 * rng.standard_normal(),
        film_thickness_m=stated["film_thickness_m"] * (1 + 0.01 * rng.standard_normal()),
        diameter_m=0.1,
        stress_x_pa=family.stress_pa,
        scan_length_m=0.08,
        points=2001,
        position_scale=1 + 0.001 * rng.standard_normal(),
        height_scale=1 + 0.005 * rng.standard_normal(),
        pre=ScanConditions(**family.pre),
        post=ScanConditions(**family.post),
        seed=seed,
        **family.truth,
    )
    drift = truth.bow_repeatability_m
    settings = {
        "substrate": "Si(001)",
        "substrate_thickness": "525 um ± 2 um",
        "film_thickness": "500 nm ± 1 %",
        "film_thickness_profile": "0 % (exact)",
        "support": "three-points",
    }
    if drift:
        settings["bow_repeatability"] = f"{drift * 1e9} nm"
    paths = write_pair(replace(truth), folder / f"{seed}")
    pre = next(p for p in paths if p.name.startswith("pre"))
    post = next(p for p in paths if p.name.startswith("post"))
    request = pair_request(pre, post, from_arguments(settings, as_options=False, shared_by="wafer"))
    return measure_wafer(request)


def coverage(family: Family, pairs: int, seed: int) -> tuple[int, float, float]:
    """Pairs whose interval holds the truth, mean half-width [Pa], spread over stated u [1]."""
    held, widths, scores = 0, [], []
    with tempfile.TemporaryDirectory() as folder:
        for number in range(pairs):
            result = measured(family, 100_000 * seed + number, Path(folder))
            stress = result.stress
            assert stress is not None
            assert stress.low is not None
            assert stress.high is not None
            held += stress.low <= family.stress_pa <= stress.high
            widths.append(0.5 * (stress.high - stress.low))
            scores.append((stress.value - family.stress_pa) / (stress.u or math.nan))
    return held, float(np.mean(widths)), float(np.sqrt(np.mean(np.square(scores))))


def table(pairs: int, seed: int) -> Iterator[tuple[str, float, float, float]]:
    """One row a family."""
    for family in FAMILIES:
        held, width, spread = coverage(family, pairs, seed)
        yield family.name, held / pairs, width, spread


def main() -> None:
    """Run the study."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pairs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    rows = []
    print(f"{'family':<40}{'coverage':>10}{'U [MPa]':>10}{'rms z':>8}   ({options.pairs} pairs)")
    for row in table(options.pairs, options.seed):
        rows.append(row)
        print(f"{row[0]:<40}{row[1]:>10.3f}{row[2] / 1e6:>10.2f}{row[3]:>8.2f}", flush=True)
    if options.out:
        options.out.mkdir(parents=True, exist_ok=True)
        with (options.out / "end_to_end.csv").open("w", newline="") as file:
            csv.writer(file).writerows([("family", "coverage", "half_width_pa", "rms_z"), *rows])


if __name__ == "__main__":
    main()
