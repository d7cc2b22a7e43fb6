"""Where a fitted line reaches a level: the zero crossing, or the x that gives a wanted y."""

from __future__ import annotations

from dataclasses import dataclass, replace

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.budget import Budget, Term
from filmstress.stats.budget import combine, scale
from filmstress.stats.coverage import t_factor
from filmstress.stats.fieller import RatioSet, SetKind, ratio_set
from filmstress.stats.straight_line import StraightLine

# Each round takes k at the end that the one before found; the ends hardly move after three.
_ROUNDS, _SETTLED = 50, 1e-12


@dataclass(frozen=True, slots=True)
class Crossing:
    """The x at which a line reaches a level.

    Attributes
    ----------
    x : float
        Best estimate [x].
    u : float
        Standard uncertainty to first order [x]; the set tells more where the slope is uncertain.
    dof : float
        Effective degrees of freedom.
    p : float
        Coverage probability of the set.
    set : RatioSet
        Confidence set of x (Fieller) [x]: an interval; or all but an interval, or everything, where
        the data do not establish that there is a slope.
    extrapolated : bool
        Whether ``x`` lies outside the points: nothing says that the line holds there.
    budget : Budget
        Of ``x``: scatter of the points, and every shared input as far as it moves x.
    """

    x: float
    u: float
    dof: float
    p: float
    set: RatioSet
    extrapolated: bool
    budget: Budget


def crossing(
    line: StraightLine, level: float = 0.0, *, p: float = 0.95, new_points: int = 0
) -> Crossing:
    """Find where the line reaches a level.

    Parameters
    ----------
    line : StraightLine
        From `fit_line`.
    level : float
        Wanted y [y]; 0 for the zero crossing.
    p : float
        Coverage probability.
    new_points : int
        0 asks where the *mean* of y is ``level``.  m > 0 asks at which x the mean of m new points
        was observed to be ``level`` (calibration): their scatter is added.

    Raises
    ------
    RefusedInput
        If the slope is exactly 0.
    UsageError
        If ``new_points`` is negative or ``p`` out of range.

    Notes
    -----
    All x at which level - y(x) lies within k u of 0.  Exact for normal scatter, equal weights and
    no shared inputs.  With these, k is taken at each end for the effective degrees of freedom that
    u has there, and whether there are ends for those of the slope: near the crossing an offset that
    all points share may rule, far from it the slope always does.  A factor shared by all points
    does not move a zero crossing, an offset moves it by offset / slope.

    References
    ----------
    E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175, doi:10.1111/j.2517-6161.1954.tb00159.x.
    F. A. Graybill and H. K. Iyer, Regression Analysis (1994), ch. 6.
    """
    if new_points < 0:
        raise UsageError(f"{new_points} new points came, 0 or more are wanted")
    if line.slope == 0.0:
        raise RefusedInput("the line is level: it reaches no other value anywhere")
    extra = line.residual_sd**2 / new_points if new_points else 0.0
    over = level - line.level
    offset = over / line.slope
    at = line.budget(1.0, offset, new_variance=extra)
    found = _set(line, over, offset, extra, p)
    x = line.centre + offset
    budget = combine(_terms(at, -1.0 / line.slope))
    return Crossing(
        x=x,
        u=budget.u,
        dof=budget.dof,
        p=p,
        set=_shifted(found, line.centre),
        extrapolated=not line.x.min() <= x <= line.x.max(),
        budget=budget,
    )


def _set(line: StraightLine, over: float, offset: float, extra: float, p: float) -> RatioSet:
    """Fieller's set of the distance from the line's centre, k following the degrees of freedom."""
    on_level = line.budget(1.0, 0.0, new_variance=extra)
    on_slope = line.budget(0.0, 1.0)
    both = line.budget(1.0, 1.0, new_variance=extra)

    def of(dof: float) -> RatioSet:
        return ratio_set(
            over,
            line.slope,
            over_variance=on_level.u**2,
            under_variance=on_slope.u**2,
            # level enters the dividend with a minus sign
            covariance=-0.5 * (both.u**2 - on_level.u**2 - on_slope.u**2),
            k=t_factor(p, dof),
        )

    def dof_at(end: float) -> float:
        return line.budget(1.0, end, new_variance=extra).dof

    far = of(on_slope.dof)
    start = far
    if far.kind is SetKind.INTERVAL:
        near = of(dof_at(offset))
        start = near if near.kind is far.kind else far
    ends: list[float | None] = []
    for name in ("low", "high"):
        end: float | None = getattr(start, name)
        for _ in range(_ROUNDS):
            if end is None:
                break
            there = of(dof_at(end))
            moved: float | None = getattr(there, name)
            if there.kind is not start.kind or moved is None:
                end = getattr(far, name)
                break
            before, end = end, moved
            if abs(end - before) <= _SETTLED * abs(end - offset):
                break
        ends.append(end)
    return RatioSet(start.kind, ends[0], ends[1], far.g)


def _terms(budget: Budget, factor: float) -> tuple[Term, ...]:
    return scale((row.term for row in budget.rows), factor)


def _shifted(found: RatioSet, by: float) -> RatioSet:
    return replace(
        found,
        low=None if found.low is None else found.low + by,
        high=None if found.high is None else found.high + by,
    )
