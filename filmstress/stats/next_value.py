"""What the next value of a kind will be, from values that came in groups."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.variance_components.mean_squares import satterthwaite


@dataclass(frozen=True, slots=True)
class NextValue:
    """One value of a group that is not among those seen.

    Attributes
    ----------
    value : float
        Mean of the groups' means [unit].
    mean_u : float
        Standard uncertainty of that mean [unit].
    spread : float
        Standard deviation of one value of any group about the true mean [unit].
    dof : float
        Effective degrees of freedom of ``u``, not truncated.
    within : float or None
        Standard deviation of the values of one group [unit]; None where no group has two.
    groups, values : int
        How many there were.
    """

    value: float
    mean_u: float
    spread: float
    dof: float
    within: float | None
    groups: int
    values: int

    @property
    def u(self) -> float:
        """Standard uncertainty of the next value [unit]."""
        return math.hypot(self.mean_u, self.spread)

    @property
    def dof_of_either(self) -> float:
        """Degrees of freedom that ``mean_u`` and ``spread`` take as terms of a budget.

        Both rest on the same scatter.  Combined as if they were independent (Welch and
        Satterthwaite) they would come out with more degrees of freedom than there are; with these
        each, the next value comes out with ``dof``.
        """
        mean, spread = self.mean_u**2, self.spread**2
        return self.dof * (mean**2 + spread**2) / (mean + spread) ** 2


def next_value(groups: Sequence[ArrayLike]) -> NextValue:
    """Predict one value of a group that is yet to come.

    Parameters
    ----------
    groups : sequence of array_like
        Values of each group [unit]; two groups or more, of one value or more each.

    Raises
    ------
    UsageError
        If a group is empty or a number is not finite.
    RefusedInput
        If fewer than two groups came, or nothing scatters.

    Notes
    -----
    Values are mean + group + own, both parts normal.  With s_m^2 the variance of the L groups'
    means, s_w^2 that within groups and n the harmonic mean of their sizes,

        spread^2 = s_m^2 + (1 - 1/n) s_w^2,   mean_u^2 = s_m^2 / L,

    which is unbiased for groups of any sizes.  Every factor is positive, so no component of
    variance needs to be found, that could come out negative.  Degrees of freedom after
    Satterthwaite: exact for single values, and close from three groups on: a 95 % interval held
    the next value in 92.5 to 96 of 100 simulated studies of three groups, 94 to 96 of five and
    more.  Of two groups it would hold 89 at worst: there the single degree of freedom between them
    is taken for all, which holds too often rather than too seldom.

    References
    ----------
    J. D. Thomas and R. A. Hultquist, Ann. Stat. 6 (1978) 582, doi:10.1214/aos/1176344202
    (unweighted means of unequal groups).
    G. J. Hahn and W. Q. Meeker, Statistical Intervals (1991), 4.7 (prediction).
    """
    rows = [np.asarray(one, dtype=np.float64) for one in groups]
    if any(one.ndim != 1 or not len(one) or not np.isfinite(one).all() for one in rows):
        raise UsageError("groups of one finite number or more are wanted")
    count = len(rows)
    if count < 2:
        raise RefusedInput(
            f"{count} group came: how groups scatter cannot be found",
            hint="at least two are wanted",
        )
    means = np.array([one.mean() for one in rows])
    of_means = float(means.var(ddof=1))
    inner = sum(len(one) - 1 for one in rows)
    squares = sum(float(((one - one.mean()) ** 2).sum()) for one in rows)
    within = squares / inner if inner else 0.0
    if of_means == 0.0 and within == 0.0:
        raise RefusedInput("all values are exactly alike: nothing can be said about the next one")
    share = 1.0 - float(np.mean([1.0 / len(one) for one in rows]))
    parts = [(of_means * (1.0 + 1.0 / count), count - 1.0)]
    if inner:
        parts.append((share * within, float(inner)))
    return NextValue(
        value=float(means.mean()),
        mean_u=math.sqrt(of_means / count),
        spread=math.sqrt(of_means + share * within),
        dof=satterthwaite(parts) if count > 2 else 1.0,
        within=math.sqrt(within) if inner else None,
        groups=count,
        values=sum(map(len, rows)),
    )
