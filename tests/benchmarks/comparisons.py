"""How often the intervals of compare, sweep and gauge hold the truth, 5,000 runs each.

python -m tests.benchmarks.comparisons [RUNS]
"""

from __future__ import annotations

import math
import sys

import numpy as np

from tests.stats.comparing import STUDIES


def main(runs: int) -> None:
    """Print the coverage of every study beside three standard deviations of its count."""
    bound = 3.0 * math.sqrt(0.95 * 0.05 / runs)
    for name, holds in STUDIES.items():
        rng = np.random.default_rng(1)
        held = sum(holds(rng) for _ in range(runs)) / runs
        print(f"{name:<32} {100.0 * held:6.2f} %   95 % +/- {100.0 * bound:.2f} %", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5_000)
