"""Three charts for subgroups that differ among themselves: means, their moving range, within."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from filmstress.stats.control.chart import Baseline, Chart, Reference
from filmstress.stats.control.individuals import individuals_charts, moving_range_reference
from filmstress.stats.control.subgroups import Spread, rows_of, spread_chart, subgroup_reference


@dataclass(frozen=True, slots=True, eq=False)
class ThreeWay:
    """The three charts and what they say about the two kinds of scatter.

    Attributes
    ----------
    means : Chart
        Subgroup means as single observations: limits from how far neighbouring means differ.
    moving_range : Chart
        Moving range of the means.
    within : Chart
        Range or standard deviation within each subgroup.
    sigma_means, sigma_within : float
        Standard deviation of the means from their moving range, and of one observation within a
        subgroup [unit].
    sigma_between : float
        Standard deviation between subgroups beyond what the scatter within explains [unit]; 0
        where that explains all of it (``between_negative``).
    between_negative : bool
        The estimate of the variance between subgroups came out negative and was set to 0.
    """

    means: Chart
    moving_range: Chart
    within: Chart
    sigma_means: float
    sigma_within: float
    sigma_between: float
    between_negative: bool


def three_way_charts(
    subgroups: Sequence[ArrayLike],
    *,
    spread: Spread = Spread.SD,
    baseline: Baseline | None = None,
    means: Reference | None = None,
    within: Reference | None = None,
) -> ThreeWay:
    """Chart subgroups whose means vary by more than the scatter within them.

    Parameters
    ----------
    subgroups : sequence of array_like
        Observations of each subgroup in order of time [unit], at least two in each.
    spread : Spread
        Measure of the spread within.
    baseline : (int, int), optional
        Subgroups that the limits are estimated from; default all.
    means, within : Reference, optional
        Stated ones, in place of an estimate: of a subgroup mean, of one observation in a subgroup.

    Notes
    -----
    Sizes should be nearly equal: the means are charted with one sigma.  Sigma between subgroups
    subtracts sigma_within^2 over the harmonic mean size of the baseline's subgroups.

    References
    ----------
    D. J. Wheeler, Advanced Topics in Statistical Process Control (1995), ch. 10 (from memory).
    """
    rows = rows_of(subgroups)
    averages = np.array([row.mean() for row in rows])
    of_means = means or moving_range_reference(averages, baseline=baseline)
    of_within = within or subgroup_reference(rows, spread=spread, baseline=baseline)
    singles, moving_range = individuals_charts(averages, of_means)
    first, stop = of_means.baseline or (0, len(rows))
    inverse_size = float(np.mean([1.0 / len(row) for row in rows[first:stop]]))
    variance = of_means.sigma**2 - of_within.sigma**2 * inverse_size
    return ThreeWay(
        means=singles,
        moving_range=moving_range,
        within=spread_chart(rows, of_within, spread=spread),
        sigma_means=of_means.sigma,
        sigma_within=of_within.sigma,
        sigma_between=math.sqrt(max(variance, 0.0)),
        between_negative=variance < 0.0,
    )
