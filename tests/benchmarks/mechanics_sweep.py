"""How far plate theory leaves the film force from the truth of a finite-element plate.

    python -m tests.benchmarks.mechanics_sweep [--refinements 2] [--cuts CUT ...] [--out DIR]

Every wafer is bent by the elements in two states, bare and coated, on the same support under its
own weight; a parabola is fitted to both along three azimuths and several parts of the diameter, and
the change goes through the linear relation, the series of `deflection` and `von_karman`.  Prints
the largest error by cut, support and reduced force S, and writes all rows as CSV with ``--out``.
The coarser mesh itself is 0.1 % off at S = 0.7 and 0.2 % at S = 1; three refinements leave an
eighth and take ten times as long.  Forces end at 0.95 of the bifurcation of `deflection`; largest
errors are of the fits that were not refused.
"""

from __future__ import annotations

import argparse
import csv
import math
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from filmstress.errors import MeasurementRefused
from filmstress.physics.deflection import (
    bifurcation,
    fit_coefficient,
    force_over_linear,
    reduced_force,
)
from filmstress.physics.elasticity import (
    directional_modulus,
    isotropic_equivalent,
    rotate_reduced,
)
from filmstress.physics.supported_plate import Weight, reduced_load
from filmstress.physics.von_karman import stiffening
from tests.physics._cuts import reduced
from tests.physics._plate_elements import ElementPlate

# Density [kg/m3].
CUTS = {"Si(001)": 2329.0, "Si(111)": 2329.0, "Ge(001)": 5323.0, "glass": 2203.0, "Si(110)": 2329.0}
# Diameter [m], thickness [m]: usual wafers, and a thinned one.
WAFERS = (
    (0.0508, 279e-6),
    (0.1, 525e-6),
    (0.15, 675e-6),
    (0.2, 725e-6),
    (0.2, 500e-6),
    (0.3, 775e-6),
)
# Kind, radius in wafer radii.
SUPPORTS = (
    ("free", 1.0),
    ("three-points", 0.7),
    ("three-points", 0.95),
    ("rim", 1.0),
    ("centre", 0.0),
)
FORCES = (10.0, 30.0, 100.0, 300.0, 600.0, 1000.0, 1500.0)
FRACTIONS = (0.2, 0.4, 0.6, 0.8, 0.95)
AZIMUTHS = (0.0, math.pi / 4.0, math.pi / 2.0)
POINTS_AZIMUTH = 0.3
BANDS = (0.1, 0.3, 0.7, 1.0, 1.3, 1.6)


@dataclass(frozen=True)
class Row:
    """One fit: relative errors of the film force [1], NaN where it was refused."""

    cut: str
    diameter_m: float
    thickness_m: float
    support: str
    support_radius: float
    force_n_per_m: float
    reduced_force: float
    azimuth_rad: float
    fraction: float
    linear: float
    series: float
    von_karman: float


def rows(
    cut: str, wafer: tuple[float, float], support: tuple[str, float], mesh: int
) -> Iterator[Row]:
    """All forces, azimuths and windows of one wafer on one support."""
    (diameter, thickness), (kind, place) = wafer, support
    q, radius = reduced(cut), diameter / 2.0
    modulus = sum(isotropic_equivalent(q))
    load = 0.0
    if kind != "free":
        load = reduced_load(
            density_kg_per_m3=CUTS[cut],
            thickness_m=thickness,
            wafer_radius_m=radius,
            reduced_pa=q,
        )
    plate = ElementPlate(
        q, mesh, load=load, support=kind, support_radius=place, support_azimuth=POINTS_AZIMUTH
    )
    bare = plate.solve(0.0)
    for sign in (1.0, -1.0):
        state = bare
        for force in FORCES:
            s = sign * reduced_force(
                force_per_width_n_per_m=force,
                modulus_pa=modulus,
                wafer_radius_m=radius,
                substrate_thickness_m=thickness,
            )
            if abs(s) > 0.95 * bifurcation(q)[1]:
                break
            try:
                state = plate.solve(s, state)
            except ArithmeticError:
                break
            for azimuth in AZIMUTHS:
                weight = None
                if kind != "free":
                    points = POINTS_AZIMUTH - azimuth if kind == "three-points" else None
                    weight = Weight(load, place, points)
                for fraction in FRACTIONS:
                    before = plate.fitted(bare, -fraction, fraction, azimuth)
                    change = plate.fitted(state, -fraction, fraction, azimuth) - before
                    errors = _errors(
                        rotate_reduced(q, azimuth), fraction, before, change, s, weight
                    )
                    yield Row(
                        cut, diameter, thickness, kind, place, sign * force, s, azimuth, fraction,
                        *errors,
                    )  # fmt: skip


def _errors(
    q: np.ndarray, fraction: float, before: float, change: float, s: float, weight: Weight | None
) -> tuple[float, float, float]:
    q11, q12 = isotropic_equivalent(q)
    along = directional_modulus(q) / (q11 + q12)
    linear = change * along
    series = force_over_linear(
        coefficient=fit_coefficient(
            poisson_ratio=q12 / q11, window_low=-fraction, window_high=fraction
        ),
        reduced_before=before,
        reduced_after=before + change,
    )
    try:
        full = stiffening(
            reduced_pa=q,
            window_low=-fraction,
            window_high=fraction,
            reduced_change=change,
            reduced_before=before,
            weight_before=weight,
            weight_after=weight,
        ).film_change
    except MeasurementRefused:
        full = math.nan
    return linear / s - 1.0, linear * series / s - 1.0, full * along / s - 1.0


def summary(
    all_rows: Iterable[Row],
) -> Iterator[tuple[str, str, float, int, int, float, float, float]]:
    """Cut, support, upper S, rows, refused, and largest errors of the three."""
    found = list(all_rows)
    for cut in dict.fromkeys(row.cut for row in found):
        for kind, place in SUPPORTS:
            low = 0.0
            for band in BANDS:
                here = [
                    row
                    for row in found
                    if (row.cut, row.support, row.support_radius) == (cut, kind, place)
                    and low < abs(row.reduced_force) <= band
                ]
                low = band
                kept = [row for row in here if not math.isnan(row.von_karman)]
                if not here:
                    continue
                worst = [
                    max((abs(getattr(row, name)) for row in kept), default=math.nan)
                    for name in ("linear", "series", "von_karman")
                ]
                yield cut, f"{kind} {place:g}", band, len(here), len(here) - len(kept), *worst


def main() -> None:
    """Run the sweep."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--refinements", type=int, default=2)
    parser.add_argument("--cuts", nargs="+", choices=list(CUTS), default=list(CUTS))
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    found = [
        row
        for cut in options.cuts
        for wafer in WAFERS
        for support in SUPPORTS
        for row in rows(cut, wafer, support, options.refinements)
    ]
    print(f"{'cut':<10}{'support':<20}{'S up to':>8}{'fits':>6}{'refused':>8}", end="")
    print(f"{'linear':>10}{'series':>10}{'plate':>10}   largest error")
    for cut, support, band, count, refused, linear, series, full in summary(found):
        print(f"{cut:<10}{support:<20}{band:>8g}{count:>6}{refused:>8}", end="")
        print(f"{linear:>10.2%}{series:>10.2%}{full:>10.2%}")
    if options.out:
        options.out.mkdir(parents=True, exist_ok=True)
        with (options.out / "mechanics_sweep.csv").open("w", newline="") as file:
            writer = csv.DictWriter(file, list(asdict(found[0])))
            writer.writeheader()
            writer.writerows(asdict(row) for row in found)


if __name__ == "__main__":
    main()
