"""Run rules that look at zones only, as a Markov chain over what they must remember."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError
from filmstress.stats.control.chart import Floats
from filmstress.stats.control.rules import Pattern, Rule
from filmstress.stats.coverage import t_cdf

MOST_STATES = 200_000
"""Above this the chain is too large to solve at once; the named sets need a few hundred."""

Memory = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RuleChain:
    """Probabilities of going from one memory to another without a signal; 0 is the start.

    Attributes
    ----------
    states : int
        Number of memories.
    source, target : ndarray of int, shape (m,)
        From and to.
    probability : ndarray, shape (m,)
        Of each step; those that end in a signal are left out.
    """

    states: int
    source: NDArray[np.intp]
    target: NDArray[np.intp]
    probability: Floats


@lru_cache(maxsize=32)
def rule_chain(rules: tuple[Rule, ...], shift: float) -> RuleChain:
    """Build the chain by following every memory that can be reached from an empty one.

    Parameters
    ----------
    rules : tuple of Rule
        None of them about trends or alternation.
    shift : float
        Distance of the mean from the centre line [sigma].

    Raises
    ------
    UsageError
        If the rules need more memories than can be solved.

    Notes
    -----
    For each rule and side the memory is which of its last ``of`` - 1 points showed the pattern,
    as bits; those that can no longer take part in a signal are forgotten, which keeps the chain
    small.

    References
    ----------
    C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393.
    """
    watches = _watches(rules)
    zones = _zones(rules, shift)
    number: dict[Memory, int] = {(0,) * len(watches): 0}
    queue = list(number)
    source, target, chance = [], [], []
    for memory in queue:  # grows while it is walked
        for middle, probability in zones:
            after = _step(memory, middle, watches)
            if after is None:
                continue
            if after not in number:
                number[after] = len(number)
                queue.append(after)
            source.append(number[memory])
            target.append(number[after])
            chance.append(probability)
        if len(number) > MOST_STATES:
            raise UsageError(
                "these rules together remember too much for their rate of false alarms to be found",
                hint="choose fewer rules",
            )
    return RuleChain(
        len(number), np.array(source, np.intp), np.array(target, np.intp), np.array(chance)
    )


def _watches(rules: Sequence[Rule]) -> list[tuple[Rule, int]]:
    """Rules with the side they look at: +1, -1, or 0 for both at once."""
    out: list[tuple[Rule, int]] = []
    for rule in rules:
        sides = (1, -1) if rule.pattern is Pattern.ONE_SIDE else (0,)
        out.extend((rule, side) for side in sides)
    return out


def _zones(rules: Sequence[Rule], shift: float) -> list[tuple[float, float]]:
    """A point inside each zone between the distances the rules know, and its probability."""
    cuts = sorted({sign * one.beyond for one in rules for sign in (1.0, -1.0)} | {0.0})
    below = [0.0, *(t_cdf(cut - shift, np.inf) for cut in cuts)]
    above = t_cdf(shift - cuts[-1], np.inf)
    middles = [cuts[0] - 1.0, *(0.5 * (a + b) for a, b in pairwise(cuts))]
    middles.append(cuts[-1] + 1.0)
    out: list[tuple[float, float]] = []
    for i, middle in enumerate(middles):
        out.append((middle, below[i + 1] - below[i] if i < len(cuts) else above))
    return out


def _step(memory: Memory, z: float, watches: Sequence[tuple[Rule, int]]) -> Memory | None:
    """Memory after a point at ``z``, None where a rule signals."""
    out: list[int] = []
    for bits, (rule, side) in zip(memory, watches, strict=True):
        shows = _shows(z, rule, side)
        bits = (bits << 1 | shows) & ((1 << rule.of) - 1)
        if shows and bits.bit_count() >= rule.count:
            return None
        out.append(_forget(bits & ((1 << rule.of - 1) - 1), rule))
    return tuple(out)


def _shows(z: float, rule: Rule, side: int) -> bool:
    if rule.pattern is Pattern.ONE_SIDE:
        return side * z > rule.beyond
    return abs(z) < rule.beyond if rule.pattern is Pattern.WITHIN else abs(z) > rule.beyond


def _forget(bits: int, rule: Rule) -> int:
    """Drop the oldest points that cannot help: even if all to come show, the count is missed."""
    while bits:
        age = bits.bit_length()  # the oldest point that shows lies so many points back, from 1
        if bits.bit_count() + rule.of - age >= rule.count:
            return bits
        bits &= ~(1 << age - 1)
    return bits
