"""What a control chart is: points over time, centre line and limits, and where these came from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError

Floats = NDArray[np.float64]
Baseline = tuple[int, int]
"""First point of the baseline and the one after its last, counted from 0."""

SETTLED_AT = 25
"""Points (or subgroups) from which limits are taken as settled.  Common practice is 20 to 25; with
fewer, the limits themselves are uncertain enough to change the rate of false alarms."""


class Kind(StrEnum):
    """What the points of a chart are."""

    INDIVIDUALS = "individuals"
    MOVING_RANGE = "moving range"
    MEANS = "means"
    RANGES = "ranges"
    SDS = "standard deviations"
    EWMA = "exponentially weighted moving average"


@dataclass(frozen=True, slots=True)
class Reference:
    """The process as it is taken to be while in control: what limits are made from.

    Attributes
    ----------
    centre, sigma : float
        Mean, and standard deviation of one plotted observation [unit].
    stated : bool
        Given beforehand (a standard), not estimated from the points of a baseline.
    baseline : (int, int) or None
        The points it was estimated from; None where stated.
    count : int
        Number of points or subgroups behind it; 0 where stated.
    """

    centre: float
    sigma: float
    stated: bool = True
    baseline: Baseline | None = None
    count: int = 0

    @property
    def provisional(self) -> bool:
        """Estimated from fewer than `SETTLED_AT` points: the limits may still move."""
        return not self.stated and self.count < SETTLED_AT


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """Points and limits of one chart, all arrays of one length.

    Attributes
    ----------
    kind : Kind
        What the points are.
    points : ndarray
        Plotted values [unit]; NaN where there is none (the first moving range).
    centre : ndarray
        Centre line [unit].
    sigma : ndarray
        Standard deviation of each point while in control [unit].
    lower, upper : ndarray
        Control limits [unit]; -inf or inf where there is none.
    reference : Reference
        What they were made from.
    """

    kind: Kind
    points: Floats
    centre: Floats
    sigma: Floats
    lower: Floats
    upper: Floats
    reference: Reference

    @property
    def outside(self) -> tuple[int, ...]:
        """Points beyond a limit, counted from 0."""
        beyond = (self.points > self.upper) | (self.points < self.lower)
        return tuple(int(i) for i in np.flatnonzero(beyond))


def stated_reference(centre: float, sigma: float) -> Reference:
    """Take the process from a standard: its mean and standard deviation [unit].

    Raises
    ------
    UsageError
        If a number is not finite, or ``sigma`` is not above 0.
    """
    if not (math.isfinite(centre) and math.isfinite(sigma) and sigma > 0.0):
        raise UsageError(
            f"a centre of {centre!r} and a sigma of {sigma!r} came, finite numbers and a sigma"
            " above 0 are wanted",
            hint="sigma is the standard deviation of one plotted point",
        )
    return Reference(centre, sigma)


def estimated_reference(
    centre: float, sigma: float, *, baseline: Baseline, count: int
) -> Reference:
    """Take the process from what a baseline gave; refused where its points do not scatter."""
    if not sigma > 0.0:
        raise RefusedInput(
            "the points of the baseline do not scatter at all: no limits can be made from them",
            hint="state sigma, or take more digits of the values",
        )
    return Reference(centre, sigma, stated=False, baseline=baseline, count=count)


def row_of(values: ArrayLike, *, least: int = 1) -> Floats:
    """One row of finite numbers as float64.

    Raises
    ------
    UsageError
        If it is not a row, too short, or holds a number that is not finite.
    """
    row = np.asarray(values, dtype=np.float64)
    if row.ndim != 1 or len(row) < least or not np.isfinite(row).all():
        raise UsageError(
            f"values of shape {row.shape} came, a row of at least {least} finite numbers is wanted",
            hint="leave out what was not measured",
        )
    return row


def baseline_of(length: int, baseline: Baseline | None, *, least: int = 2) -> Baseline:
    """The baseline as a range that lies within ``length`` points; all of them where None.

    Raises
    ------
    UsageError
        If it lies outside, or holds fewer than ``least`` points.
    """
    first, stop = (0, length) if baseline is None else baseline
    if not (0 <= first < stop <= length and stop - first >= least):
        raise UsageError(
            f"a baseline from {first} up to {stop} of {length} points came, at least {least} of"
            " them are wanted",
            hint="count from 0; the second number is the point after the last",
        )
    return first, stop
