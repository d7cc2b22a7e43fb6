"""Charts of single observations: the values and their moving range."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import UsageError
from filmstress.stats.control.chart import (
    Baseline,
    Chart,
    Kind,
    Reference,
    baseline_of,
    estimated_reference,
    row_of,
)
from filmstress.stats.control.constants import chart_constants


def moving_range_reference(values: ArrayLike, *, baseline: Baseline | None = None) -> Reference:
    """Estimate centre and sigma of single observations from a baseline.

    The centre is the mean; sigma is the mean moving range of neighbours over d2(2) = 2/sqrt(pi),
    which a slow drift inflates far less than the standard deviation.

    Parameters
    ----------
    values : array_like, shape (n,)
        In order of time [unit].
    baseline : (int, int), optional
        First point and the one after the last; default all.

    Raises
    ------
    UsageError
        If a number is not finite or the baseline holds fewer than two points.
    RefusedInput
        If the points do not scatter.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, doi:10.18434/M32189.
    """
    row = row_of(values, least=2)
    first, stop = baseline_of(len(row), baseline)
    part = row[first:stop]
    sigma = float(np.abs(np.diff(part)).mean()) / chart_constants(2).d2
    return estimated_reference(float(part.mean()), sigma, baseline=(first, stop), count=len(part))


def individuals_charts(values: ArrayLike, reference: Reference) -> tuple[Chart, Chart]:
    """Chart of single observations and chart of their moving range, limits at three sigma.

    Parameters
    ----------
    values : array_like, shape (n,)
        In order of time [unit].
    reference : Reference
        From `moving_range_reference`, or stated.

    Notes
    -----
    Neighbouring moving ranges share a point and are far from normal: on the second chart only a
    point beyond a limit means anything, run rules do not.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, doi:10.18434/M32189.
    """
    row = row_of(values)
    ones = np.ones(len(row))
    sigma = reference.sigma
    singles = Chart(
        Kind.INDIVIDUALS,
        points=row,
        centre=reference.centre * ones,
        sigma=sigma * ones,
        lower=(reference.centre - 3.0 * sigma) * ones,
        upper=(reference.centre + 3.0 * sigma) * ones,
        reference=reference,
    )
    pair = chart_constants(2)
    ranges = Chart(
        Kind.MOVING_RANGE,
        points=np.concatenate([[np.nan], np.abs(np.diff(row))]),
        centre=pair.d2 * sigma * ones,
        sigma=pair.d3 * sigma * ones,
        lower=0.0 * ones,
        upper=pair.D4 * pair.d2 * sigma * ones,
        reference=reference,
    )
    return singles, ranges


def moving_range_dof(points: int) -> float:
    """Degrees of freedom of a sigma from the mean moving range of so many points; about 0.6 each.

    Two degrees of freedom over the relative variance of the mean range.  Neighbouring differences
    of independent normal values have the correlation -1/2, and for a correlation r the mean of the
    product of two absolute normal values is (2/pi) (sqrt(1 - r^2) + r asin r).
    """
    ranges = points - 1
    if ranges < 1:
        raise UsageError(f"{points} points came, at least 2 are wanted for a moving range")
    # Both in sigma^2, where a difference has the variance 2.
    own = 2.0 - 4.0 / math.pi
    neighbours = 4.0 / math.pi * (math.sqrt(0.75) + math.pi / 12.0 - 1.0)
    variance = (ranges * own + 2.0 * (ranges - 1) * neighbours) / ranges**2
    return 0.5 * (4.0 / math.pi) / variance
