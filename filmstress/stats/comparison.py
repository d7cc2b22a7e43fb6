"""Two groups compared: difference, ratio, equivalence and spreads.

The values of a group are independent ones, as `groups` says: means of lots, not wafers of lots.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.budget import Budget
from filmstress.stats.coverage import t_cdf, t_factor
from filmstress.stats.fieller import RatioSet, ratio_set
from filmstress.stats.groups import Group, contrast, pooled_spread


@dataclass(frozen=True, slots=True)
class Difference:
    """Mean of the first group minus mean of the second.

    Attributes
    ----------
    value : float
        [unit].
    u, dof : float
        Standard uncertainty [unit] and its effective degrees of freedom (Welch-Satterthwaite, not
        truncated).
    p : float
        Coverage probability.
    low, high : float
        Coverage interval [unit].
    p_value : float
        Probability of a difference at least as far from 0 if there were none.
    budget : Budget
        Scatter of either group and every shared input, after cancelling.
    shared_before : float
        Standard uncertainty that the shared inputs would bring if they did not cancel [unit]: had
        each group an input of its own.
    counts : (int, int)
        Number of values in the groups.
    """

    value: float
    u: float
    dof: float
    p: float
    low: float
    high: float
    p_value: float
    budget: Budget
    shared_before: float
    counts: tuple[int, int]

    @property
    def holds_zero(self) -> bool:
        """Whether the interval holds 0.  That is no proof that the groups are equal."""
        return self.low <= 0.0 <= self.high


@dataclass(frozen=True, slots=True)
class Ratio:
    """Mean of the first group over mean of the second.

    Attributes
    ----------
    value : float
        [1].
    u, dof : float
        Standard uncertainty to first order, and its effective degrees of freedom.
    p : float
        Coverage probability.
    set : RatioSet
        Confidence set (Fieller), unbounded where the second mean may be 0.
    """

    value: float
    u: float
    dof: float
    p: float
    set: RatioSet


class Verdict(StrEnum):
    """Outcome of a test of equivalence."""

    EQUIVALENT = "equivalent"
    NOT_EQUIVALENT = "not equivalent"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Equivalence:
    """Two one-sided tests against a margin.

    Attributes
    ----------
    verdict : Verdict
        EQUIVALENT where the interval lies within the margin, NOT_EQUIVALENT where it lies wholly
        beyond it, otherwise UNDECIDED: the data cannot tell.
    margin : float
        Largest difference that does not matter [unit].
    alpha : float
        Level of each test.
    low, high : float
        Interval with probability 1 - 2 alpha [unit].
    p_low, p_high : float
        p-values against a difference of -margin or less, and of +margin or more.
    smallest_margin : float
        Smallest margin that these data would pass [unit].
    """

    verdict: Verdict
    margin: float
    alpha: float
    low: float
    high: float
    p_low: float
    p_high: float
    smallest_margin: float


@dataclass(frozen=True, slots=True)
class SpreadRatio:
    """Standard deviation of the first group over that of the second.

    Attributes
    ----------
    value : float
        [1].
    p : float
        Coverage probability.
    low, high : float
        Interval, for normal values.
    p_value : float
        Two-sided, of equal spreads.
    """

    value: float
    p: float
    low: float
    high: float
    p_value: float


def difference(
    first: Group, second: Group, *, p: float = 0.95, equal_spread: bool = False
) -> Difference:
    """Difference of two groups' means, in which shared inputs cancel as far as they are shared.

    Parameters
    ----------
    first, second : Group
        With budget terms where inputs are shared (a modulus, a calibration); both or neither.
    p : float
        Coverage probability.
    equal_spread : bool
        Take the spreads of the groups as equal (pooled).  Worth it for two or three lots a group,
        where it is known that recipes do not change the scatter.

    Raises
    ------
    RefusedInput
        If the scatter of a group cannot be found: a single value (with ``equal_spread``, one of
        them may be single).
    UsageError
        If ``p`` is out of range.

    Notes
    -----
    u^2 = s1^2/n1 + s2^2/n2 + sum over shared inputs of (mean effect on the first group minus mean
    effect on the second)^2; how shared inputs count stands in `contrast`.

    References
    ----------
    B. L. Welch, Biometrika 34 (1947) 28, doi:10.1093/biomet/34.1-2.28.
    JCGM 100:2008, 5.2.2 (correlated inputs) and G.4.1 (degrees of freedom).
    """
    pooled = pooled_spread((first, second)) if equal_spread else None
    found = contrast((first, second), (1.0, -1.0), pooled=pooled)
    budget = found.budget
    value = first.mean - second.mean
    if budget.u == 0.0:
        raise RefusedInput(
            "neither group scatters at all, so nothing can be said about chance",
            where=f"{first.name} and {second.name}",
        )
    k = t_factor(p, budget.dof)
    return Difference(
        value=value,
        u=budget.u,
        dof=budget.dof,
        p=p,
        low=value - k * budget.u,
        high=value + k * budget.u,
        p_value=min(1.0, 2.0 * t_cdf(-abs(value) / budget.u, budget.dof)),
        budget=budget,
        shared_before=found.shared_before,
        counts=(len(first.values), len(second.values)),
    )


def ratio(first: Group, second: Group, *, p: float = 0.95, equal_spread: bool = False) -> Ratio:
    """Ratio of two groups' means, from which a factor common to both drops out.

    Parameters and errors as in `difference`.

    Notes
    -----
    Fieller's set, with one coverage factor from the effective degrees of freedom at the ratio
    found: exact for equal spreads without shared inputs, close otherwise.

    References
    ----------
    E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175, doi:10.1111/j.2517-6161.1954.tb00159.x.
    """
    if second.mean == 0.0:
        raise RefusedInput("its mean is 0: there is no ratio to it", where=second.name)
    value = first.mean / second.mean
    pooled = pooled_spread((first, second)) if equal_spread else None
    at_ratio, over, under, both = (
        contrast((first, second), factors, pooled=pooled).budget
        for factors in ((1.0, -value), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0))
    )
    found = ratio_set(
        first.mean,
        second.mean,
        over_variance=over.u**2,
        under_variance=under.u**2,
        covariance=0.5 * (both.u**2 - over.u**2 - under.u**2),
        k=t_factor(p, at_ratio.dof),
    )
    return Ratio(value, at_ratio.u / abs(second.mean), at_ratio.dof, p, found)


def equivalence(found: Difference, *, margin: float, alpha: float = 0.05) -> Equivalence:
    """Test whether a difference is too small to matter.

    Parameters
    ----------
    found : Difference
        From `difference`.
    margin : float
        Largest difference that does not matter [unit], chosen before the data were seen.
    alpha : float
        Level of each of the two tests; the interval has probability 1 - 2 alpha.

    Raises
    ------
    UsageError
        If ``margin`` is not above 0, or ``alpha`` not between 0 and 0.5.

    References
    ----------
    D. J. Schuirmann, J. Pharmacokinet. Biopharm. 15 (1987) 657, doi:10.1007/BF01068419.
    """
    if not (math.isfinite(margin) and margin > 0.0):
        raise UsageError(
            f"a margin of {margin!r} came, a finite number above 0 is wanted",
            hint="the largest difference that does not matter, such as 10 MPa",
        )
    if not 0.0 < alpha < 0.5:
        raise UsageError(f"a level of {alpha!r} came, a number between 0 and 0.5 is wanted")
    half = t_factor(1.0 - 2.0 * alpha, found.dof) * found.u
    low, high = found.value - half, found.value + half
    if -margin < low and high < margin:
        verdict = Verdict.EQUIVALENT
    elif high < -margin or low > margin:
        verdict = Verdict.NOT_EQUIVALENT
    else:
        verdict = Verdict.UNDECIDED
    return Equivalence(
        verdict=verdict,
        margin=margin,
        alpha=alpha,
        low=low,
        high=high,
        p_low=t_cdf(-(found.value + margin) / found.u, found.dof),
        p_high=t_cdf((found.value - margin) / found.u, found.dof),
        smallest_margin=max(abs(low), abs(high)),
    )


def spread_ratio(first: Group, second: Group, *, p: float = 0.95) -> SpreadRatio:
    """Ratio of two groups' standard deviations, by the F distribution.

    Raises
    ------
    RefusedInput
        If a group has a single value or does not scatter.

    Notes
    -----
    For normal values; long tails make the interval too short however many values there are.
    """
    from scipy.stats import f

    for one in (first, second):
        if not one.sd > 0.0:
            raise RefusedInput("its values have no spread to compare", where=one.name)
    value = first.sd / second.sd
    n1, n2 = len(first.values) - 1, len(second.values) - 1
    tail = 0.5 * (1.0 - p)
    low = value / math.sqrt(float(f.isf(tail, n1, n2)))
    high = value * math.sqrt(float(f.isf(tail, n2, n1)))
    rarer = min(float(f.sf(value**2, n1, n2)), float(f.cdf(value**2, n1, n2)))
    return SpreadRatio(value, p, low, high, min(1.0, 2.0 * rarer))
