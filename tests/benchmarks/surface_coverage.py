"""How often the 95 % intervals of a map's curvatures hold, under drawn noise.

    python -m tests.benchmarks.surface_coverage [--maps 200] [--kind rough-20]

Kinds: white; and on a disc of 120 mm rough (exp(-d / l)), once-smooth (its integral,
(1 + d / l) exp(-d / l)) and smooth (exp(-d^2 / 2 l^2)) noise with l millimetres, each with white
noise a quarter as strong.  ``beneath``: smooth noise of 40 mm and white noise four times as strong.
``rows``: rows offset against each other; ``waves``: smooth noise three times as long one way.
Columns: coverage of xx, yy, xy and of the higher and lower principal curvature, which are alike
here; mean expanded uncertainty over 1.96 times the scatter of the estimates; share of maps whose
uncertainty counts as established; share of xx, yy, xy that hold or are flagged as not established.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable

import numpy as np

from filmstress.records.scan import HeightMap, ScanSource
from filmstress.scans.surface import map_curvature
from filmstress.simulate.random_field import RandomField

HALF_M = 60e-3
AXIS = np.linspace(-HALF_M, HALF_M, 121)
X, Y = np.meshgrid(AXIS, AXIS)
DISC = np.hypot(X, Y) <= HALF_M * (1.0 + 1e-9)
RMS_M = 20e-9
# With fewer waves, single maps differ from a normal field of this covariance.
WAVES = 1024
SOURCE = ScanSource("map", "0", "m", "m", "x, y", "z", 0)

Draw = Callable[[np.random.Generator], np.ndarray]
Vectors = Callable[[np.random.Generator], np.ndarray]


def white(rng: np.random.Generator) -> np.ndarray:
    """Independent noise."""
    return RMS_M * rng.standard_normal(X.shape)


def correlated(vectors: Vectors, *, length_m: float, white_part: float = 0.25) -> Draw:
    """Noise of a correlation, given by unit wave vectors drawn from its spectrum, and white."""

    def draw(rng: np.random.Generator) -> np.ndarray:
        kx, ky = vectors(rng) / length_m
        phase = rng.uniform(0.0, 2.0 * math.pi, WAVES)
        field = RandomField(kx, ky, phase, RMS_M * math.sqrt(2.0 / WAVES))
        return field.on_grid(AXIS, AXIS) + white_part * white(rng)

    return draw


def smooth(rng: np.random.Generator) -> np.ndarray:
    """Wave vectors of exp(-d^2 / 2)."""
    return rng.standard_normal((2, WAVES))


def rough(rng: np.random.Generator) -> np.ndarray:
    """Of exp(-d), whose spectrum is a Cauchy distribution."""
    return smooth(rng) / np.sqrt(rng.chisquare(1, WAVES))


def once_smooth(rng: np.random.Generator) -> np.ndarray:
    """Of (1 + d) exp(-d): Student's distribution of three degrees of freedom."""
    return smooth(rng) / np.sqrt(rng.chisquare(3, WAVES))


def waves(rng: np.random.Generator) -> np.ndarray:
    """Smooth, three times as long along x."""
    return smooth(rng) * np.array([[1.0], [3.0]])


def rows(rng: np.random.Generator) -> np.ndarray:
    """Every row offset by itself, and white noise."""
    return RMS_M * rng.standard_normal((AXIS.size, 1)) + 0.25 * white(rng)


KINDS: dict[str, Draw] = {
    "white": white,
    **{
        f"{vectors.__name__.replace('_', '-')}-{length}": correlated(
            vectors, length_m=length * 1e-3
        )
        for length in (2, 10, 20, 40, 60)
        for vectors in (rough, once_smooth, smooth)
    },
    "beneath": correlated(smooth, length_m=40e-3, white_part=4.0),
    "waves": correlated(waves, length_m=30e-3),
    "rows": rows,
}


def found_in(draw: Draw, maps: int) -> dict[str, np.ndarray]:
    """For every map: whether each interval held, values, expanded uncertainties, establishment."""
    held, values, expanded, established = [], [], [], []
    for seed in range(maps):
        z = np.where(DISC, draw(np.random.default_rng([seed, 7])), np.nan)
        found = map_curvature(HeightMap(AXIS, AXIS, z, SOURCE))
        five = (found.xx, found.yy, found.xy, found.high, found.low)
        values.append([one.value for one in five])
        expanded.append([one.expanded for one in five])
        held.append([one.holds_zero for one in five])
        established.append(found.established)
    return {
        "held": np.array(held),
        "value": np.array(values),
        "expanded": np.array(expanded, dtype=np.float64),
        "established": np.array(established),
    }


def main() -> None:
    """Print a row for each kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--maps", type=int, default=200)
    parser.add_argument("--kind", choices=list(KINDS), action="append")
    asked = parser.parse_args()
    heads = "".join(f"{head:>8}" for head in ("xx", "yy", "xy", "higher", "lower"))
    print(f"{'noise':16}{heads}{'U/1.96s':>9}{'established':>13}{'held or flagged':>17}")
    for kind in asked.kind or KINDS:
        found = found_in(KINDS[kind], asked.maps)
        held, sure = found["held"], found["established"]
        shares = "".join(f"{share:8.3f}" for share in held.mean(axis=0))
        scatter = found["value"][:, :3].std(axis=0).mean()
        size = float(found["expanded"][:, :3].mean() / (1.96 * scatter))
        told = float((held[:, :3] | ~sure[:, None]).mean())
        print(f"{kind:16}{shares}{size:9.2f}{sure.mean():13.2f}{told:17.3f}", flush=True)


if __name__ == "__main__":
    main()
