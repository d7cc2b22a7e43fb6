"""What a Monte Carlo propagation costs, and whether the look before it misses anything.

    python -m tests.benchmarks.monte_carlo [--budgets 400]

Time is processor time against that of drawing the same variates and nothing else; memory is the
highest of a fresh process over what it had after importing.  Then random budgets: how often the
first order fails its validation, how often the look at the second order foresees it, and what that
look takes.  For Linux: elsewhere the highest memory comes in other units.
"""

from __future__ import annotations

import argparse
import math
import statistics
import subprocess
import sys
import time

import numpy as np

from filmstress.measure.propagation import tolerance
from filmstress.records.budget import Term
from filmstress.records.quantity import Shape
from filmstress.stats.budget import combine
from filmstress.stats.coverage import estimate
from filmstress.stats.draws import Draws, Variate
from filmstress.stats.monte_carlo import Floats, Model, agrees, propagate
from filmstress.stats.second_order import in_doubt

INPUTS = 12
_MEMORY = """
import resource, sys
from tests.benchmarks.monte_carlo import INPUTS, stoney
from filmstress.stats.draws import Variate
from filmstress.stats.monte_carlo import propagate
def memory(kind):
    # Not ru_maxrss, which a process takes over from the one that started it.
    with open('/proc/self/status') as status:
        return 1024 * int(next(l for l in status if l.startswith(kind)).split()[1])
variates = [Variate(f'x{i}') for i in range(INPUTS)]
propagate(stoney, variates, tolerances=[1.0])
before = memory('VmRSS')
(found,) = propagate(stoney, variates, tolerances=[0.0], most=int(sys.argv[1]))
print(memory('VmHWM') - before)
"""


def stoney(reduced: Floats) -> Floats:
    """A stress by Stoney's equation with twelve inputs."""
    change = 0.012 + 1e-5 * reduced[0] + 5e-6 * reduced[1] + 2e-6 * reduced[2]
    scale = (1.0 + 0.005 * reduced[3]) / (1.0 + 0.001 * reduced[4]) ** 2
    modulus = 180e9 + 1e9 * reduced[5] + 5e8 * reduced[6] + 2e8 * reduced[7]
    h_s, h_f = 525e-6 + 2e-6 * reduced[8], 1e-6 + 2e-8 * reduced[9]
    rest = 1e5 * reduced[10] + 1e4 * reduced[11]
    return np.asarray((modulus * h_s**2 / (6.0 * h_f) * change * scale + rest)[None])


def cost(draws: int) -> float:
    """Processor time of a propagation over that of drawing alone."""
    variates = [Variate(f"x{i}") for i in range(INPUTS)]
    start = time.process_time()
    propagate(stoney, variates, tolerances=[0.0], most=draws)
    whole = time.process_time() - start
    source = Draws(variates, 1)
    start = time.process_time()
    for _ in range(draws // 2_500):
        source.next(2_500)
    return whole / (time.process_time() - start)


def memory(draws: int) -> int:
    """Highest memory of a fresh process over what it had after importing [byte]."""
    run = subprocess.run(
        [sys.executable, "-c", _MEMORY, str(draws)], capture_output=True, text=True, check=True
    )
    return int(run.stdout)


def random_budget(rng: np.random.Generator) -> tuple[list[Variate], Model]:
    """A signal with noise, a squared thickness, a divisor, and others; sometimes about zero."""
    count = int(rng.integers(3, 9))
    variates = []
    for number in range(count):
        kind = rng.random()
        if kind < 0.35:
            variates.append(Variate(f"x{number}", shape=Shape.RECTANGULAR))
        elif kind < 0.5:
            dof = math.exp(rng.uniform(math.log(2.0), math.log(200.0)))
            variates.append(Variate(f"x{number}", dof=dof))
        else:
            variates.append(Variate(f"x{number}"))
    signal = float(rng.choice([1.0, 1.0, 1.0, 0.0, 0.1]))
    noise = math.exp(rng.uniform(math.log(1e-3), math.log(0.3)))
    sizes = np.exp(rng.uniform(math.log(1e-3), math.log(0.12), count)).tolist()

    def model(reduced: Floats) -> Floats:
        found = signal + noise * reduced[0]
        found = found * (1.0 + sizes[1] * reduced[1]) ** 2 / (1.0 + sizes[2] * reduced[2])
        for number in range(3, count):
            change = sizes[number] * reduced[number]
            found = found * (1.0 + change) if number % 2 else found + 0.3 * change
        return np.asarray(found[None])

    return variates, model


def first_order(variates: list[Variate], model: Model) -> tuple[float, float, float]:
    """Ends and standard uncertainty by the law of propagation."""
    count, step = len(variates), 1e-4
    turned = step * np.eye(count)
    slopes = (model(turned) - model(-turned))[0] / (2.0 * step)
    terms = [
        Term(input=one.input, value=0.0, unit="1", u=1.0, sensitivity=slope, dof=one.dof)
        for one, slope in zip(variates, slopes.tolist(), strict=True)
    ]
    budget = combine(terms)
    told = estimate(float(model(np.zeros((count, 1)))[0, 0]), "1", u=budget.u, dof=budget.dof)
    assert told.low is not None
    assert told.high is not None
    return told.low, told.high, budget.u


def foreseen(budgets: int, seed: int) -> tuple[dict[tuple[bool, bool], int], float]:
    """How often (in doubt, failed) came together, and the median time of the look [s]."""
    rng = np.random.default_rng(seed)
    counts = {(doubt, failed): 0 for doubt in (False, True) for failed in (False, True)}
    taken = []
    for _ in range(budgets):
        variates, model = random_budget(rng)
        low, high, u = first_order(variates, model)
        allowed = tolerance(u)
        start = time.perf_counter()
        doubt = in_doubt(model, variates, low=low, high=high, tolerance=allowed)
        taken.append(time.perf_counter() - start)
        (found,) = propagate(model, variates, tolerances=[0.2 * allowed], most=200_000)
        failed = not agrees(found, low=low, high=high, tolerance=allowed)
        counts[doubt, failed] += 1
    return counts, statistics.median(taken)


def main() -> None:
    """Print what is measured."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--budgets", type=int, default=400)
    budgets = parser.parse_args().budgets
    ratios = [cost(1_000_000) for _ in range(3)]
    print(f"10^6 draws of {INPUTS} inputs: {statistics.median(ratios):.2f} of drawing them")
    print(f"memory over import: {memory(1_000_000) / 2**20:.1f} MiB")
    counts, taken = foreseen(budgets, 1)
    for (doubt, failed), count in counts.items():
        told = "in doubt" if doubt else "not in doubt"
        print(f"{told}, first order {'fails' if failed else 'stands'}: {count}")
    print(f"the look takes {1e3 * taken:.2f} ms")


if __name__ == "__main__":
    main()
