"""How often the 95 % interval of a step's height holds the truth, under several kinds of noise.

    python -m tests.benchmarks.step_coverage [--scans 1000] [--seed 1]

Prints one line for each kind of step, noise and levelling: the share of the intervals that held the
truth, the standard deviation of the heights over the root mean square of their u, and the mean
coverage factor.  Then how often a scan without a step was taken for one with.
"""

from __future__ import annotations

import argparse
import math

import numpy as np

from filmstress.errors import RefusedInput
from filmstress.scans.step import find_steps
from filmstress.stats.coverage import t_factor, whole_dof
from tests.scans.step_scans import NOISES, X, form, scan_of
from tests.stats.step_traces import CASES, fitted, holds


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scans", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    rng = np.random.default_rng(options.seed)
    print("step    noise                levelled   held    sd/u    k")
    for case in CASES:
        fits = [fitted(case, rng) for _ in range(options.scans)]
        held = sum(map(holds, fits)) / len(fits)
        ratio = np.std([fit.height for fit in fits]) / math.sqrt(np.mean([f.u**2 for f in fits]))
        k = np.mean([t_factor(0.95, whole_dof(fit.dof)) for fit in fits])
        line = "parabola" if case.bow else "straight"
        print(f"{case.step:<7} {case.noise:<20} {line:<10} {held:.3f}   {ratio:.2f}   {k:.2f}")
    print("\nnoise without a step    taken for one")
    for name, draw in NOISES.items():
        taken = 0
        for _ in range(options.scans):
            z = form(*rng.uniform(-1e-6, 1e-6, 2)) + 1e-9 * draw(rng)
            try:
                find_steps(scan_of(X, z))
            except RefusedInput:
                continue
            taken += 1
        print(f"{name:<24}{taken} of {options.scans}")


if __name__ == "__main__":
    main()
