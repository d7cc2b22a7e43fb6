"""What propagating distributions by Monte Carlo found."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.records.quantity import Estimate


@dataclass(frozen=True, slots=True, eq=False)
class Propagated:
    """Distribution of one output (JCGM 101:2008, 7).

    Attributes
    ----------
    draws : int
    value, u : float
        Mean and standard deviation of the draws [unit].  Where an input has two degrees of freedom
        or fewer there is no standard deviation: it is infinite, and the value is the median.
    p : float
        Coverage probability.
    low, high : float
        Ends of the probabilistically symmetric coverage interval [unit].
    shortest_low, shortest_high : float
        Ends of the shortest one [unit].
    settled : bool
        Whether the results reached the numerical tolerance asked for.
    levels : ndarray
        Values at evenly spaced probabilities from 0 to 1 [unit]: the distribution function.
    """

    draws: int
    value: float
    u: float
    p: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float
    settled: bool
    levels: NDArray[np.float64]

    def stated_with(self, estimate: Estimate) -> Estimate:
        """An estimate with this coverage interval in place of its own.

        Its value and standard uncertainty stay.  The interval need not lie evenly about the value;
        the expanded uncertainty then is the farther end's distance, so that value and expanded
        uncertainty hold the interval.
        """
        farther = max(estimate.value - self.low, self.high - estimate.value)
        k = farther / estimate.u if estimate.u else None
        return replace(estimate, k=k, dof=math.inf, p=self.p, low=self.low, high=self.high)


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """One output of a measurement, by Monte Carlo beside the first order.

    Attributes
    ----------
    drawn : Propagated
    first_low, first_high : float
        Ends of the interval by the law of propagation of uncertainty [unit].
    tolerance : float
        How far its ends may lie from the drawn ones [unit].
    validated : bool
        Whether they do not lie farther (JCGM 101:2008, 8).
    """

    drawn: Propagated
    first_low: float
    first_high: float
    tolerance: float
    validated: bool


@dataclass(frozen=True, slots=True, eq=False)
class MonteCarlo:
    """A measurement's propagation by Monte Carlo.

    Attributes
    ----------
    seed : int
        Makes the same numbers again.
    asked : bool
        Whether it was asked for, or ran because the first order was in doubt.
    outputs : tuple of (str, Comparison)
        By name: "stress", "force_per_width", "stress_mismatch".
    """

    seed: int
    asked: bool
    outputs: tuple[tuple[str, Comparison], ...]

    def of(self, name: str) -> Comparison | None:
        """The output of that name."""
        return dict(self.outputs).get(name)

    def instead(self, name: str) -> Propagated | None:
        """What stands in for the first order where that fails for the output of that name."""
        found = self.of(name)
        return None if found is None or found.validated else found.drawn
