"""How often the printed interval holds the true stress: any cut, support and size of bow.

    python -m tests.benchmarks.any_wafer [--wafers 300] [--seed 1] [--out DIR]

Every wafer is drawn: its cut (the elastic constants within the table's uncertainty), size, bare
bow, film force up to nine tenths of the bifurcation, support of both scans (a third of them
changed), line, window, and everything that is then stated with an uncertainty.  Finite elements of
a large-deflection plate under its own weight bend it; its scans, with waviness and noise, go the
whole way to the printed stress.  Prints coverage (nominal 95 %) by cut, support and reduced force
S; refused wafers are counted apart.
"""

from __future__ import annotations

import argparse
import csv
import math
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from filmstress.errors import FilmstressError
from filmstress.inputs.settings import from_arguments
from filmstress.measure.plate import Plate, plate_of
from filmstress.measure.wafer import measure_wafer, pair_request
from filmstress.physics.deflection import bifurcation
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.physics.supported_plate import reduced_load
from filmstress.records.quantity import Measured
from filmstress.records.scan import ReadingOptions, Scan, ScanSource
from filmstress.records.wafer import SubstrateSpec
from tests.measure._pairs import waviness
from tests.physics._plate_elements import ElementPlate

Floats = NDArray[np.float64]

# A cut with the in-plane direction of its 0 deg, where one must be stated.
CUTS: dict[str, str | None] = {
    "Si(001)": "[110]",
    "Si(111)": "[1-10]",
    "Si(110)": "[001]",
    "Ge(001)": "[110]",
    "GaAs(001)": "[110]",
    "sapphire(c)": None,
    "4H-SiC(0001)": None,
    "fused-silica": None,
}
# Diameter [m], thickness [m].
WAFERS = ((0.0508, 279e-6), (0.1, 525e-6), (0.15, 675e-6), (0.2, 725e-6), (0.2, 500e-6))
SUPPORTS = ("free", "three-points", "rim", "centre")
FILM_M, FILM_U, SUBSTRATE_U_M = 500e-9, 0.01, 1.5e-6
POSITION_U, HEIGHT_U, AZIMUTH_U = 0.001, 0.005, math.radians(1.0)
# Of the bifurcation; forces are drawn evenly in their logarithm.
WEAKEST, STRONGEST = 0.003, 0.9
POINTS, MESH = 1601, 2
BANDS = (0.03, 0.1, 0.3, 1.0, 2.0)


@dataclass(frozen=True)
class Trial:
    """One wafer: what it was, and how its stress came out."""

    seed: int
    cut: str
    support: str
    reduced_force: float
    window: float
    truth_pa: float
    value_pa: float
    u_pa: float
    low_pa: float
    high_pa: float
    refused: str

    @property
    def held(self) -> bool:
        return self.low_pa <= self.truth_pa <= self.high_pa


def drawn_stiffness(plate: Plate, rng: np.random.Generator) -> Floats:
    """Q [Pa] of a wafer whose constants lie beside the table's by as much as is stated there."""
    q = plate.reduced.copy()
    for constant in plate.inputs:
        q += constant.derivative * (constant.measured.u or 0.0) * rng.standard_normal()
    return q


def trial(seed: int) -> Trial:
    """Draw a wafer, bend it, scan it and measure it."""
    rng = np.random.default_rng([seed, 31])
    cut = str(rng.choice(list(CUTS)))
    plate = plate_of(
        SubstrateSpec(material=cut, thickness=Measured(1.0, "m"), azimuth_reference=CUTS[cut])
    )
    q = drawn_stiffness(plate, rng)
    diameter, nominal = WAFERS[rng.integers(len(WAFERS))]
    radius = 0.5 * diameter
    thickness = nominal + SUBSTRATE_U_M * rng.standard_normal()
    film = FILM_M * (1.0 + FILM_U * rng.standard_normal())
    modulus = sum(isotropic_equivalent(q))
    limit = bifurcation(q)[1]
    sign = rng.choice((-1.0, 1.0))
    s = sign * limit * math.exp(rng.uniform(math.log(WEAKEST), math.log(STRONGEST)))
    force = 2.0 * s * modulus * thickness**3 / (3.0 * radius**2)
    stress = force / film / (1.0 + film / thickness)
    bare = rng.normal(scale=0.05)
    kinds = [str(kind) for kind in rng.choice(SUPPORTS, 2)]
    if rng.random() < 2.0 / 3.0 or "free" in kinds:
        kinds[1] = kinds[0]
    place = rng.uniform(0.6, 0.95)
    points_azimuth = rng.uniform(0.0, 2.0 * math.pi / 3.0)
    azimuth = rng.uniform(0.0, math.pi)
    line = azimuth + AZIMUTH_U * rng.standard_normal()
    half = rng.uniform(0.4, 0.85) * radius
    middle = rng.uniform(-0.08, 0.08) * radius
    x = np.linspace(middle - half, middle + half, POINTS)
    shapes = _shapes(
        q, kinds, place, points_azimuth, bare, s, line, radius, thickness, plate.density or 0.0
    )
    rough = waviness(seed)
    position, height = (1.0 + u * rng.standard_normal() for u in (POSITION_U, HEIGHT_U))
    scans = {}
    for name, shape in zip(("pre", "post"), shapes, strict=True):
        tilt, noise = rng.normal(scale=2e-5), rng.normal(scale=4e-9, size=x.size)
        z = height * (shape(x) + rough(x) + tilt * x + noise)
        told = ScanSource(name, name, "m", "m", "x", "z", x.size)
        scans[name] = Scan(position * (x - middle) + middle, z, told)
    settings = {
        "substrate": cut,
        "substrate_thickness": f"{nominal * 1e6} um ± {SUBSTRATE_U_M * 1e6} um",
        "diameter": f"{diameter * 1e3} mm (exact)",
        "azimuth": f"{math.degrees(azimuth)} deg",
        "film_thickness": f"{FILM_M * 1e9} nm ± {FILM_U * 100} %",
        "film_thickness_profile": "0 % (exact)",
        "origin": "0 mm",
    }
    if CUTS[cut]:
        settings["azimuth_reference"] = str(CUTS[cut])
    for name, kind in zip(("pre", "post"), kinds, strict=True):
        settings[f"{name}_support"] = kind
        if kind == "three-points":
            settings[f"{name}_support_radius"] = f"{place * radius * 1e3} mm ± 0.2 mm"
            settings[f"{name}_support_azimuth"] = f"{math.degrees(points_azimuth)} deg"
    support = kinds[0] if kinds[0] == kinds[1] else "changed"

    def read(path: str, options: ReadingOptions) -> Scan:
        return scans[path]

    def told_of(value: float, u: float, low: float, high: float, refused: str) -> Trial:
        return Trial(seed, cut, support, s, half / radius, stress, value, u, low, high, refused)

    nothing = (math.nan,) * 4
    try:
        stated = from_arguments(settings, as_options=False, shared_by="wafer")
        result = measure_wafer(pair_request("pre", "post", stated), read=read)
    except FilmstressError as error:
        return told_of(*nothing, str(error))
    if result.stress is None or result.refusal is not None:
        return told_of(*nothing, "" if result.refusal is None else str(result.refusal.code))
    one = result.stress
    low, high = (math.nan if end is None else end for end in (one.low, one.high))
    return told_of(one.value, one.u or math.nan, low, high, "")


def _shapes(
    q: Floats,
    kinds: list[str],
    place: float,
    points_azimuth: float,
    bare: float,
    s: float,
    line: float,
    radius: float,
    thickness: float,
    density: float,
) -> list[Callable[[Floats], Floats]]:
    """Heights [m] along the line, bare and coated, each on its support."""
    load = reduced_load(
        density_kg_per_m3=density,
        thickness_m=thickness,
        wafer_radius_m=radius,
        reduced_pa=q,
    )
    nodes = np.linspace(-0.96, 0.96, 193)
    places = np.stack([nodes * math.cos(line), nodes * math.sin(line)])
    shapes = []
    for kind, force in zip(kinds, (0.0, s), strict=True):
        elements = ElementPlate(
            q,
            MESH,
            bare=bare,
            load=0.0 if kind == "free" else load,
            support=kind,
            support_radius=place,
            support_azimuth=points_azimuth,
        )
        # From zero in steps: at once, the solution may jump to another branch.
        state = elements.solve(0.0)
        for step in np.linspace(0.0, force, 1 + math.ceil(abs(force) / 0.25))[1:]:
            state = elements.solve(float(step), state)
        heights = thickness * (elements.heights.probes(places) @ state[: elements.heights.N])
        shapes.append(CubicSpline(radius * nodes, heights))
    return shapes


def table(trials: list[Trial]) -> Iterator[tuple[str, int, int, float, float]]:
    """Kind, wafers, refused, coverage, and rms of the error over the stated u."""
    kinds: list[tuple[str, Callable[[Trial], bool]]] = [("all", lambda _: True)]
    kinds += [(cut, lambda one, cut=cut: one.cut == cut) for cut in CUTS]
    kinds += [(s, lambda one, s=s: one.support == s) for s in (*SUPPORTS, "changed")]
    low = 0.0
    for high in BANDS:
        kinds.append(
            (
                f"S {low:g} to {high:g}",
                lambda one, low=low, high=high: low < abs(one.reduced_force) <= high,
            )
        )
        low = high
    for name, belongs in kinds:
        here = [one for one in trials if belongs(one)]
        told = [one for one in here if not math.isnan(one.value_pa)]
        if told:
            score = np.array([(one.value_pa - one.truth_pa) / one.u_pa for one in told])
            held = sum(one.held for one in told) / len(told)
            yield name, len(here), len(here) - len(told), held, float(np.sqrt(np.mean(score**2)))


def main() -> None:
    """Run the study."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wafers", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    trials = [trial(100_000 * options.seed + number) for number in range(options.wafers)]
    print(f"{'':<20}{'wafers':>8}{'refused':>9}{'coverage':>10}{'rms z':>8}")
    for name, count, refused, held, score in table(trials):
        print(f"{name:<20}{count:>8}{refused:>9}{held:>10.3f}{score:>8.2f}")
    if options.out:
        options.out.mkdir(parents=True, exist_ok=True)
        with (options.out / "any_wafer.csv").open("w", newline="") as file:
            writer = csv.DictWriter(file, list(asdict(trials[0])))
            writer.writeheader()
            writer.writerows(asdict(one) for one in trials)


if __name__ == "__main__":
    main()
