"""Lines grouped by direction: repeats of one azimuth become one curvature with its terms."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.quantity import Source
from filmstress.stats.budget import scale

_SAME_DIRECTION_RAD = math.radians(3.0)


def same_direction(one_rad: float, other_rad: float) -> bool:
    """Whether two azimuths [rad] agree within 3 deg, a half turn apart included."""
    return abs(math.remainder(one_rad - other_rad, math.pi)) < _SAME_DIRECTION_RAD


@dataclass(frozen=True, slots=True, eq=False)
class Direction:
    """All scans of one azimuth.

    Attributes
    ----------
    azimuth : float
        [rad].
    lines : tuple of CurvatureChange
        Repeats of one line.
    change : float
        Mean change of curvature [1/m].
    terms : tuple of Term
        Contributions to its uncertainty, output in 1/m; scale factors are not among them, since
        all directions share them.
    film_change : float
        The change that the film alone makes on a linear plate [1/m]: without the wafer's weight
        and the stiffening of large deflection.
    numbers : tuple of int
        Which lines of the wafer they are.
    sag : float
        What the change of support made of the fitted change, taken out of it before [1/m].
    gain : float
        How ``film_change`` grows with ``change`` [1].
    stiffening : float
        How much more than linearly it does [1]: what the thickness, entering squared, loses.
    corrections : tuple of Term
        What those corrections add to its uncertainty, output in 1/m.
    suffix : str
        Appended to names of budget rows: ", 90 deg", or "" where there is one direction.
    """

    azimuth: float
    lines: tuple[CurvatureChange, ...]
    change: float
    terms: tuple[Term, ...]
    film_change: float
    numbers: tuple[int, ...] = (0,)
    sag: float = 0.0
    gain: float = 1.0
    stiffening: float = 0.0
    corrections: tuple[Term, ...] = ()
    suffix: str = ""

    def mean(self, value: Callable[[CurvatureChange], float]) -> float:
        """Mean of a number over the repeats."""
        return math.fsum(value(line) for line in self.lines) / len(self.lines)


def group_by_direction(lines: Sequence[CurvatureChange]) -> tuple[Direction, ...]:
    """Group lines whose azimuths agree within 3 deg, a half turn apart included."""
    groups: list[list[int]] = []
    for number, line in enumerate(lines):
        for group in groups:
            if same_direction(line.azimuth, lines[group[0]].azimuth):
                group.append(number)
                break
        else:
            groups.append([number])
    alone = len(groups) == 1
    return tuple(_direction([lines[i] for i in group], group, alone=alone) for group in groups)


def _direction(
    group: Sequence[CurvatureChange], numbers: Sequence[int], *, alone: bool
) -> Direction:
    n = len(group)
    changes = np.array([line.change.curvature for line in group])
    terms: list[Term] = []
    for number, line in enumerate(group, start=1):
        suffix = "" if alone else f", {math.degrees(line.azimuth):.4g} deg"
        if n > 1:
            suffix += f" #{number}"
        # What several lines share keeps its one name, so that it does not average away.
        terms += [
            term if term.common_to else replace(term, input=term.input + suffix)
            for term in scale(line.terms, 1.0 / n)
        ]
    if n > 1:
        terms += _between_repeats(group, changes)
    mean = float(changes.mean())
    name = "" if alone else f", {math.degrees(group[0].azimuth):.4g} deg"
    return Direction(
        group[0].azimuth,
        tuple(group),
        mean,
        tuple(terms),
        film_change=mean,
        numbers=tuple(numbers),
        suffix=name,
    )


def _between_repeats(group: Sequence[CurvatureChange], changes: NDArray[np.float64]) -> list[Term]:
    """Scatter between repeats beyond what each scan says of itself.

    The variance between repeats is the observed one less the mean of the scans' own (analysis of
    variance, one-way random effects); what the scans say of themselves stays in their own terms,
    so it is neither counted twice nor dropped.
    """
    n = len(group)
    named = Counter((t.input, t.common_to) for line in group for t in line.terms if t.common_to)
    # What a repeat shares with other directions only is its own here.
    own = float(
        np.mean(
            [
                sum(t.contribution**2 for t in line.terms if named[t.input, t.common_to] < 2)
                for line in group
            ]
        )
    )
    observed = float(changes.var(ddof=1))
    between = observed - own
    if between <= 0.0:
        return []
    suffix = f", {math.degrees(group[0].azimuth):.4g} deg"
    return [
        Term(
            input="between repeats" + suffix,
            value=float(changes.mean()),
            unit="1/m",
            u=math.sqrt(between),
            sensitivity=1.0 / math.sqrt(n),
            # The n - 1 belong to the observed variance; the difference is known less well.
            dof=(n - 1.0) * (between / observed) ** 2,
            evaluation="A",
            source=Source.DATA,
        )
    ]
