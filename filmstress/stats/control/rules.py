"""Run rules: which points of a chart signal, and by which pattern.

References
----------
Western Electric, Statistical Quality Control Handbook (1956).
L. S. Nelson, J. Quality Technol. 16 (1984) 237, doi:10.1080/00224065.1984.11978921 (from memory).
ISO 7870-2 (run lengths from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError
from filmstress.stats.control.chart import Chart, Floats, Kind

Flags = NDArray[np.bool_]


class Pattern(StrEnum):
    """What a rule looks for."""

    ONE_SIDE = "one side"  # so many of so many beyond z sigma on the same side
    WITHIN = "within"  # in a row within z sigma
    OUTSIDE = "outside"  # in a row beyond z sigma, on either side
    TREND = "trend"  # in a row steadily rising or falling
    ALTERNATING = "alternating"  # in a row up and down in turn


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule: ``count`` of ``of`` consecutive points that show the pattern.

    Attributes
    ----------
    name : str
        How it is asked for, and what it says: "2 of 3 beyond 2 sigma".
    pattern : Pattern
        What counts.
    count, of : int
        Points that must show it, among so many consecutive ones.
    beyond : float
        Distance from the centre [sigma]; 0 for patterns without one.
    """

    name: str
    pattern: Pattern
    count: int
    of: int
    beyond: float = 0.0


@dataclass(frozen=True, slots=True)
class Signal:
    """A point at which a rule's pattern is complete.

    Attributes
    ----------
    index : int
        The point, counted from 0.
    rule : Rule
        The rule.
    side : str
        "above" or "below" the centre, "rising" or "falling", or "" for patterns without a side.
    points : tuple of int
        Points that make up the pattern.
    """

    index: int
    rule: Rule
    side: str
    points: tuple[int, ...]


def _one_side(count: int, of: int, beyond: float) -> Rule:
    if of == 1:
        return Rule(f"beyond {beyond:g} sigma", Pattern.ONE_SIDE, 1, 1, beyond)
    if beyond == 0.0:
        return Rule(f"{of} in a row on one side", Pattern.ONE_SIDE, of, of)
    name = f"{count} of {of} beyond {beyond:g} sigma on one side"
    return Rule(name, Pattern.ONE_SIDE, count, of, beyond)


BEYOND_LIMIT = _one_side(1, 1, 3.0)
TWO_OF_THREE = _one_side(2, 3, 2.0)
FOUR_OF_FIVE = _one_side(4, 5, 1.0)
SEVEN_ONE_SIDE = _one_side(7, 7, 0.0)
EIGHT_ONE_SIDE = _one_side(8, 8, 0.0)
NINE_ONE_SIDE = _one_side(9, 9, 0.0)
SIX_TREND = Rule("6 in a row steadily rising or falling", Pattern.TREND, 6, 6)
SEVEN_TREND = Rule("7 in a row steadily rising or falling", Pattern.TREND, 7, 7)
FOURTEEN_ALTERNATING = Rule("14 in a row up and down in turn", Pattern.ALTERNATING, 14, 14)
FIFTEEN_WITHIN = Rule("15 in a row within 1 sigma", Pattern.WITHIN, 15, 15, 1.0)
EIGHT_OUTSIDE = Rule("8 in a row beyond 1 sigma on either side", Pattern.OUTSIDE, 8, 8, 1.0)

RULE_SETS: dict[str, tuple[Rule, ...]] = {
    "limits": (BEYOND_LIMIT,),
    "western-electric": (BEYOND_LIMIT, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_ONE_SIDE),
    "nelson": (
        BEYOND_LIMIT,
        NINE_ONE_SIDE,
        SIX_TREND,
        FOURTEEN_ALTERNATING,
        TWO_OF_THREE,
        FOUR_OF_FIVE,
        FIFTEEN_WITHIN,
        EIGHT_OUTSIDE,
    ),
    # The illustrations of ISO 7870-2, which says to choose rules for the process, not to apply all.
    "iso": (BEYOND_LIMIT, SEVEN_ONE_SIDE, SEVEN_TREND),
}
"""Rule sets by name; their members are known by number, from 1 in this order: "nelson-3"."""


def rules_by_name(names: str | Iterable[str]) -> tuple[Rule, ...]:
    """Rules by the names of sets ("nelson") or of their members ("western-electric-4").

    Returns
    -------
    tuple of Rule
        Each once, in the order asked for.

    Raises
    ------
    UsageError
        If a name is not known.
    """
    known: dict[str, tuple[Rule, ...]] = dict(RULE_SETS)
    for group, rules in RULE_SETS.items():
        if len(rules) > 1:
            known.update({f"{group}-{i}": (rule,) for i, rule in enumerate(rules, 1)})
    chosen: dict[Rule, None] = {}
    for name in [names] if isinstance(names, str) else names:
        if name not in known:
            raise UsageError(
                f"'{name}' is not a rule that is known",
                hint="known are: " + ", ".join(RULE_SETS) + "; one alone as nelson-3",
            )
        chosen.update(dict.fromkeys(known[name]))
    return tuple(chosen)


def signals(chart: Chart, rules: Sequence[Rule] = RULE_SETS["limits"]) -> tuple[Signal, ...]:
    """Find where the patterns of the rules are complete, in order of time.

    Parameters
    ----------
    chart : Chart
        Of single observations or of means.
    rules : sequence of Rule
        From `rules_by_name`.

    Raises
    ------
    UsageError
        If run rules are asked for on a chart whose points are neither independent nor normal
        (moving ranges, ranges, standard deviations, moving averages): use ``chart.outside`` there.

    Notes
    -----
    A point signals where it completes the pattern: it must show the pattern itself.  A pattern of
    more points than the rule wants goes on signalling.
    """
    if chart.kind not in (Kind.INDIVIDUALS, Kind.MEANS):
        raise UsageError(
            f"run rules were asked for on a chart of {chart.kind}",
            hint="they hold for single values and means; here only a point beyond a limit counts",
        )
    z = (chart.points - chart.centre) / chart.sigma
    found = [one for rule in rules for one in _found(z, rule)]
    return tuple(sorted(found, key=lambda one: (one.index, rules.index(one.rule))))


def _found(z: Floats, rule: Rule) -> list[Signal]:
    out = []
    for side, shows, spare in _sides(z, rule):
        window, wanted = rule.of - spare, rule.count - spare
        for end in (int(i) for i in np.flatnonzero(shows)):
            first = max(0, end + 1 - window)
            members = first + np.flatnonzero(shows[first : end + 1])
            if len(members) >= wanted:
                before = range(int(members[0]) - spare, int(members[0]))
                out.append(Signal(end, rule, side, (*before, *(int(i) for i in members))))
    return out


def _sides(z: Floats, rule: Rule) -> list[tuple[str, Flags, int]]:
    """Which points show the pattern, by side, and how many points lie before the first that can."""
    if rule.pattern is Pattern.ONE_SIDE:
        return [("above", z > rule.beyond, 0), ("below", z < -rule.beyond, 0)]
    if rule.pattern is Pattern.WITHIN:
        return [("", np.abs(z) < rule.beyond, 0)]
    if rule.pattern is Pattern.OUTSIDE:
        return [("", np.abs(z) > rule.beyond, 0)]
    step = np.diff(z, prepend=z[:1])
    if rule.pattern is Pattern.TREND:
        return [("rising", step > 0.0, 1), ("falling", step < 0.0, 1)]
    turns = np.zeros(len(z), dtype=np.bool_)
    turns[1:] = step[1:] * step[:-1] < 0.0
    return [("", turns, 2)]
