"""How often the 95 % intervals of a map's curvatures hold, under drawn noise.

    python -m tests.benchmarks.surface_coverage [--maps 200] [--kind rough-20]

Kinds: white; rough (exp(-d / l)) and smooth (exp(-d^2 / 2 l^2)) noise correlated over l millimetres
on a disc of 120 mm, each with white noise a quarter as strong.  Columns: coverage of xx, yy and xy;
expanded uncertainty over 1.96 times the scatter of the estimates; share of established fits.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np

from filmstress.simulate.random_field import RandomField
from filmstress.stats.coverage import t_factor
from filmstress.stats.surface_fit import fit_surface

HALF_M = 60e-3
AXIS = np.linspace(-HALF_M, HALF_M, 121)
X, Y = np.meshgrid(AXIS, AXIS)
DISC = np.hypot(X, Y) <= HALF_M * (1.0 + 1e-9)
RMS_M = 20e-9

Draw = Callable[[np.random.Generator], np.ndarray]


def white(rng: np.random.Generator) -> np.ndarray:
    """Independent noise."""
    return RMS_M * rng.standard_normal(X.shape)


def correlated(length_m: float, *, smooth: bool) -> Draw:
    """Noise correlated over a length, and white noise."""

    def draw(rng: np.random.Generator) -> np.ndarray:
        field = RandomField.draw if smooth else RandomField.draw_rough
        # With fewer waves single maps differ from a normal field of this covariance.
        slow = field(rng, rms_m=RMS_M, length_m=length_m, modes=1024).on_grid(AXIS, AXIS)
        return slow + 0.25 * white(rng)

    return draw


KINDS: dict[str, Draw] = {
    "white": white,
    **{
        f"{word}-{length}": correlated(length * 1e-3, smooth=word == "smooth")
        for length in (2, 20, 60)
        for word in ("rough", "smooth")
    },
}


def held(draw: Draw, maps: int) -> dict[str, np.ndarray]:
    """Whether each interval held, the estimates, expanded uncertainties and establishment."""
    values, expanded, established = [], [], []
    for seed in range(maps):
        z = draw(np.random.default_rng([seed, 7]))
        fit = fit_surface(X[DISC], Y[DISC], z[DISC])
        factors = [t_factor(0.95, dof) for dof in fit.dof.tolist()]
        values.append(fit.curvature)
        expanded.append(np.array(factors) * np.sqrt(np.diag(fit.covariance)))
        established.append(fit.established)
    found, within = np.array(values), np.array(expanded)
    return {
        "held": np.abs(found) <= within,
        "value": found,
        "expanded": within,
        "established": np.array(established),
    }


def main() -> None:
    """Print a row for each kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--maps", type=int, default=200)
    parser.add_argument("--kind", choices=list(KINDS), action="append")
    asked = parser.parse_args()
    print(f"{'noise':12}{'xx':>8}{'yy':>8}{'xy':>8}{'U/1.96s':>9}{'established':>13}")
    for kind in asked.kind or KINDS:
        found = held(KINDS[kind], asked.maps)
        shares = "".join(f"{share:8.3f}" for share in found["held"].mean(axis=0))
        size = float(found["expanded"].mean() / (1.96 * found["value"].std(axis=0).mean()))
        print(f"{kind:12}{shares}{size:9.2f}{found['established'].mean():13.2f}", flush=True)


if __name__ == "__main__":
    main()
