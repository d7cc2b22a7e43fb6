"""Confidence sets for the ratio of two uncertain quantities, which need not be an interval."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from filmstress.errors import UsageError


class SetKind(StrEnum):
    """Shape of a confidence set."""

    INTERVAL = "interval"  # between low and high
    OUTSIDE = "outside"  # up to low, and from high on: the divisor may be 0
    EVERYTHING = "everything"  # no value can be excluded


@dataclass(frozen=True, slots=True)
class RatioSet:
    """Confidence set of a ratio.

    Attributes
    ----------
    kind : SetKind
        Shape of the set.
    low, high : float or None
        Its ends [unit of the ratio].  For OUTSIDE the values *between* them are those excluded.
        None where there is none: EVERYTHING has neither, and where the divisor's interval just
        reaches 0 one end is missing.
    g : float
        (k u / divisor)^2 of the divisor; an interval exists where it is below 1, and it is nearly
        symmetric where g is below about 0.05.
    """

    kind: SetKind
    low: float | None
    high: float | None
    g: float

    def holds(self, ratio: float) -> bool:
        """Whether a value belongs to the set."""
        if self.kind is SetKind.EVERYTHING:
            return True
        over_low = self.low is not None and ratio >= self.low
        under_high = self.high is not None and ratio <= self.high
        if self.kind is SetKind.OUTSIDE:
            under_low = self.low is not None and ratio <= self.low
            return under_low or (self.high is not None and ratio >= self.high)
        return (self.low is None or over_low) and (self.high is None or under_high)


def ratio_set(
    over: float,
    under: float,
    *,
    over_variance: float,
    under_variance: float,
    covariance: float = 0.0,
    k: float,
) -> RatioSet:
    """Find all ratios r for which over - r under is within k of its standard uncertainties from 0.

    Parameters
    ----------
    over, under : float
        Dividend and divisor.
    over_variance, under_variance, covariance : float
        Squared standard uncertainties of the two, and their covariance.
    k : float
        Coverage factor, from the degrees of freedom of the uncertainties.

    Returns
    -------
    RatioSet
        Exact where both are normal with variances known up to one scale.

    Raises
    ------
    UsageError
        If a number is not finite, or the variances are no covariance matrix.

    References
    ----------
    E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175, doi:10.1111/j.2517-6161.1954.tb00159.x.
    """
    numbers = (over, under, over_variance, under_variance, covariance, k)
    most = math.sqrt(max(over_variance, 0.0) * max(under_variance, 0.0))
    if (
        not all(map(math.isfinite, numbers))
        or min(over_variance, under_variance) < 0.0
        or abs(covariance) > most * (1.0 + 1e-9)
    ):
        raise UsageError(
            "the ratio of two quantities wants finite values and a covariance matrix",
            hint="covariance = correlation * u of the one * u of the other",
        )
    if under == 0.0 and under_variance == 0.0:
        raise UsageError("the divisor is 0 for certain: there is no ratio")
    square = k * k
    # (over - r under)^2 <= k^2 (over_variance - 2 r covariance + r^2 under_variance)
    a = under * under - square * under_variance
    b = over * under - square * covariance
    c = over * over - square * over_variance
    g = math.inf if under == 0.0 else square * under_variance / under**2
    # b^2 - a c without the difference of large squares that nearly cancel.
    spread = (
        over * over * under_variance - 2.0 * over * under * covariance + under**2 * over_variance
    )
    spread -= square * (over_variance * under_variance - covariance**2)
    root = k * math.sqrt(max(spread, 0.0))
    if a == 0.0:
        if b == 0.0:
            return RatioSet(SetKind.EVERYTHING, None, None, g)
        end = c / (2.0 * b)
        if b > 0.0:
            return RatioSet(SetKind.INTERVAL, end, None, g)
        return RatioSet(SetKind.INTERVAL, None, end, g)
    if a < 0.0 and spread <= 0.0:
        return RatioSet(SetKind.EVERYTHING, None, None, g)
    low, high = sorted(((b - root) / a, (b + root) / a))
    return RatioSet(SetKind.INTERVAL if a > 0.0 else SetKind.OUTSIDE, low, high, g)
