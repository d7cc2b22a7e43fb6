"""Lines grouped by direction: repeats of one azimuth become one curvature with its terms."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.quantity import Source
from filmstress.stats.budget import scale

SAME_DIRECTION_RAD = math.radians(3.0)


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
    gain : float
        How ``film_change`` grows with ``change`` [1].
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
    gain: float = 1.0
    corrections: tuple[Term, ...] = ()
    suffix: str = ""

    def mean(self, value: Callable[[CurvatureChange], float]) -> float:
        """Mean of a number over the repeats."""
        return math.fsum(value(line) for line in self.lines) / len(self.lines)


def group_by_direction(lines: Sequence[CurvatureChange]) -> tuple[Direction, ...]:
    """Group lines whose azimuths agree within 3 deg, a half turn apart included."""
    groups: list[list[CurvatureChange]] = []
    for line in lines:
        for group in groups:
            apart = (line.azimuth - group[0].azimuth + math.pi / 2) % math.pi - math.pi / 2
            if abs(apart) < SAME_DIRECTION_RAD:
                group.append(line)
                break
        else:
            groups.append([line])
    return tuple(_direction(group, alone=len(groups) == 1) for group in groups)


def _direction(group: Sequence[CurvatureChange], *, alone: bool) -> Direction:
    n = len(group)
    changes = np.array([line.change.curvature for line in group])
    terms: list[Term] = []
    for number, line in enumerate(group, start=1):
        suffix = "" if alone else f", {math.degrees(line.azimuth):.4g} deg"
        if n > 1:
            suffix += f" #{number}"
        terms += [replace(term, input=term.input + suffix) for term in scale(line.terms, 1.0 / n)]
    if n > 1:
        terms += _between_repeats(group, changes)
    mean = float(changes.mean())
    name = "" if alone else f", {math.degrees(group[0].azimuth):.4g} deg"
    return Direction(
        group[0].azimuth, tuple(group), mean, tuple(terms), film_change=mean, suffix=name
    )


def _between_repeats(group: Sequence[CurvatureChange], changes: NDArray[np.float64]) -> list[Term]:
    """Scatter between repeats beyond what each scan says of itself.

    The variance between repeats is the observed one less the mean of the scans' own (analysis of
    variance, one-way random effects); what the scans say of themselves stays in their own terms,
    so it is neither counted twice nor dropped.
    """
    n = len(group)
    own = float(np.mean([sum(t.contribution**2 for t in line.terms) for line in group]))
    between = float(changes.var(ddof=1)) - own
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
            dof=n - 1.0,
            evaluation="A",
            source=Source.DATA,
        )
    ]
