"""Components of variance as results."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum


class Method(StrEnum):
    """How components were estimated."""

    ANOVA = "analysis of variance"
    REML = "restricted maximum likelihood"


@dataclass(frozen=True, slots=True)
class MeanSquare:
    """One line of an analysis of variance.

    Attributes
    ----------
    source : str
        Name of the source of scatter.
    sum_of_squares : float
        [unit^2].
    dof : int
        Degrees of freedom.
    expected : tuple of float
        Multiples of the components' variances (in their order) that the mean square estimates.
    """

    source: str
    sum_of_squares: float
    dof: int
    expected: tuple[float, ...]

    @property
    def mean_square(self) -> float:
        """Sum of squares over degrees of freedom [unit^2]."""
        return self.sum_of_squares / self.dof


@dataclass(frozen=True, slots=True)
class Component:
    """One component of variance.

    Attributes
    ----------
    name : str
        Source of the scatter.
    variance : float
        [unit^2], never negative.
    raw_variance : float
        The estimate before a negative one was set to 0 [unit^2].
    low, high : float
        Coverage interval of the variance [unit^2].  Both ends 0: groups differ by less than even
        the scatter within them would make them, so the model of independent scatter is in doubt.
    dof : float
        Effective degrees of freedom (Satterthwaite); 0 where the variance is 0.
    """

    name: str
    variance: float
    raw_variance: float
    low: float
    high: float
    dof: float

    @property
    def negative(self) -> bool:
        """Whether the estimate was negative and is reported as 0: too small to be seen here."""
        return self.raw_variance < 0.0

    @property
    def sd(self) -> float:
        """Standard deviation [unit]."""
        return math.sqrt(self.variance)


@dataclass(frozen=True, slots=True)
class Components:
    """All components, outermost first, and what the grand mean's uncertainty is.

    Attributes
    ----------
    components : tuple of Component
        Outermost first, the residual last.
    total : Component
        Their sum: variance of one observation.
    table : tuple of MeanSquare
        The analysis of variance; empty for REML.
    mean, mean_u, mean_dof : float
        Grand mean, its standard uncertainty [unit] and degrees of freedom.
    p : float
        Coverage probability of the intervals.
    method : Method
        How they were estimated.
    balanced : bool
        Every group of one level has the same number of members.  Where not, intervals and degrees
        of freedom of an analysis of variance are approximate.
    """

    components: tuple[Component, ...]
    total: Component
    table: tuple[MeanSquare, ...]
    mean: float
    mean_u: float
    mean_dof: float
    p: float
    method: Method
    balanced: bool

    def share(self, name: str) -> float:
        """Share of a component in the total variance."""
        found = next(one for one in self.components if one.name == name)
        return found.variance / self.total.variance if self.total.variance else 0.0
