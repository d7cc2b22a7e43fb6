"""Run lengths of run rules by simulation, where no finite chain holds them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError
from filmstress.stats.control.chart import Floats
from filmstress.stats.control.rules import Pattern, Rule

RUNS = 40_000
_LONGEST = 100_000


@lru_cache(maxsize=16)
def draw_run_lengths(rules: tuple[Rule, ...], *, shift: float, seed: int = 1) -> Floats:
    """Draw the lengths of ``RUNS`` charts of independent normal points up to the first signal.

    All charts run side by side; those that have signalled are taken out.

    Parameters
    ----------
    rules : tuple of Rule
        All in use at once.
    shift : float
        Distance of the mean from the centre line [sigma].
    seed : int
        The same one draws the same lengths.

    Raises
    ------
    UsageError
        If a chart runs for 100 000 points: such rules hardly ever signal.
    """
    random = np.random.default_rng(seed)
    watches = [(rule, side) for rule in rules for side in _sides_of(rule)]
    ones = [_ones_in(rule.of) for rule, _ in watches]
    lengths = np.zeros(RUNS)
    alive = np.arange(RUNS)
    memory = np.zeros((len(watches), RUNS), dtype=np.int64)
    last = np.full(RUNS, np.nan)
    last_step = np.full(RUNS, np.nan)
    for point in range(1, _LONGEST + 1):
        z = random.standard_normal(len(alive)) + shift
        step = z - last
        signal = np.zeros(len(alive), dtype=np.bool_)
        for row, (rule, side) in enumerate(watches):
            shows, spare = _shows(z, step, last_step, rule, side)
            window, wanted = rule.of - spare, rule.count - spare
            memory[row] = (memory[row] << 1 | shows) & ((1 << window) - 1)
            signal |= shows & (ones[row][memory[row]] >= wanted)
        lengths[alive[signal]] = point
        rest = ~signal
        alive, memory, last, last_step = alive[rest], memory[:, rest], z[rest], step[rest]
        if len(alive) == 0:
            return lengths
    raise UsageError(
        f"a chart under these rules ran for {_LONGEST} points without a signal",
        hint="add the rule for a point beyond 3 sigma",
    )


def _ones_in(bits: int) -> NDArray[np.int64]:
    """How many bits are set, of every number of so many bits."""
    return np.array([number.bit_count() for number in range(1 << bits)], dtype=np.int64)


def _sides_of(rule: Rule) -> tuple[int, ...]:
    return (1, -1) if rule.pattern in (Pattern.ONE_SIDE, Pattern.TREND) else (0,)


def _shows(
    z: Floats, step: Floats, last_step: Floats, rule: Rule, side: int
) -> tuple[NDArray[np.bool_], int]:
    """Which charts' newest point shows the pattern; comparisons with what is not there fail."""
    if rule.pattern is Pattern.ONE_SIDE:
        return side * z > rule.beyond, 0
    if rule.pattern is Pattern.TREND:
        return side * step > 0.0, 1
    if rule.pattern is Pattern.ALTERNATING:
        return step * last_step < 0.0, 2
    away = np.abs(z)
    return (away < rule.beyond if rule.pattern is Pattern.WITHIN else away > rule.beyond), 0
