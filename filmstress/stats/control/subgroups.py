"""Charts of subgroups: their means and their ranges or standard deviations, of any sizes."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import UsageError
from filmstress.stats.control.chart import (
    Baseline,
    Chart,
    Floats,
    Kind,
    Reference,
    baseline_of,
    estimated_reference,
    row_of,
)
from filmstress.stats.control.constants import ChartConstants, chart_constants


class Spread(StrEnum):
    """Measure of the spread within a subgroup.

    The range suits up to about ten observations, the standard deviation any number.
    """

    RANGE = "range"
    SD = "standard deviation"


def subgroup_reference(
    subgroups: Sequence[ArrayLike],
    *,
    spread: Spread = Spread.SD,
    baseline: Baseline | None = None,
) -> Reference:
    """Estimate centre and within-subgroup sigma from a baseline of subgroups.

    Parameters
    ----------
    subgroups : sequence of array_like
        Observations of each subgroup in order of time [unit]; at least two in each, sizes may
        differ.
    spread : Spread
        What sigma is estimated from.
    baseline : (int, int), optional
        First subgroup and the one after the last; default all.

    Returns
    -------
    Reference
        ``sigma`` is that of one observation within a subgroup.  The centre is the mean of all
        observations of the baseline.

    Raises
    ------
    UsageError
        If a subgroup is too small, a number not finite, or the baseline empty.
    RefusedInput
        If nothing scatters within the subgroups.

    Notes
    -----
    With unequal sizes, sigma is the mean of R/d2(n) or s/c4(n) weighted by the inverse of their
    variances; with equal sizes that is the familiar mean range over d2, or mean s over c4.

    References
    ----------
    I. W. Burr, J. Quality Technol. 1 (1969) 163, doi:10.1080/00224065.1969.11980367.
    ISO 7870-2.
    """
    rows = rows_of(subgroups)
    first, stop = baseline_of(len(rows), baseline, least=1)
    part = rows[first:stop]
    single = np.array([spread_of(row, spread) / _mean_spread(row, spread) for row in part])
    weight = np.array([(_mean_spread(row, spread) / _sd_spread(row, spread)) ** 2 for row in part])
    sigma = float(weight @ single / weight.sum())
    centre = float(np.concatenate(part).mean())
    return estimated_reference(centre, sigma, baseline=(first, stop), count=len(part))


def subgroup_charts(
    subgroups: Sequence[ArrayLike], reference: Reference, *, spread: Spread = Spread.SD
) -> tuple[Chart, Chart]:
    """Chart of the subgroups' means and chart of their spread, limits at three sigma.

    Parameters
    ----------
    subgroups : sequence of array_like
        As in `subgroup_reference`.
    reference : Reference
        Its ``sigma`` is that of one observation.

    Notes
    -----
    The limits of the means hold where means scatter by what happens within subgroups only.  Where
    subgroups differ among themselves as well (lots do), they are too narrow: see `three_way`.
    The spread is far from normal: only a point beyond a limit means anything on the second chart.

    References
    ----------
    ISO 7870-2.  NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.1, doi:10.18434/M32189.
    """
    rows = rows_of(subgroups)
    size = np.array([len(row) for row in rows], dtype=np.float64)
    ones = np.ones(len(rows))
    sigma = reference.sigma / np.sqrt(size)
    means = Chart(
        Kind.MEANS,
        points=np.array([row.mean() for row in rows]),
        centre=reference.centre * ones,
        sigma=sigma,
        lower=reference.centre - 3.0 * sigma,
        upper=reference.centre + 3.0 * sigma,
        reference=reference,
    )
    return means, spread_chart(rows, reference, spread=spread)


def spread_chart(rows: Sequence[Floats], reference: Reference, *, spread: Spread) -> Chart:
    """Chart of the range or standard deviation of each subgroup, limits at three sigma."""
    centre = reference.sigma * np.array([_mean_spread(row, spread) for row in rows])
    sigma = reference.sigma * np.array([_sd_spread(row, spread) for row in rows])
    return Chart(
        Kind.RANGES if spread is Spread.RANGE else Kind.SDS,
        points=np.array([spread_of(row, spread) for row in rows]),
        centre=centre,
        sigma=sigma,
        lower=np.maximum(0.0, centre - 3.0 * sigma),
        upper=centre + 3.0 * sigma,
        reference=reference,
    )


def rows_of(subgroups: Sequence[ArrayLike]) -> list[Floats]:
    """The subgroups as float64 rows of at least two finite numbers each."""
    if len(subgroups) == 0:
        raise UsageError("no subgroup came", hint="pass one row of observations for each")
    return [row_of(one, least=2) for one in subgroups]


def spread_of(row: Floats, spread: Spread) -> float:
    """Range or standard deviation (divisor n - 1) of one subgroup [unit]."""
    return float(np.ptp(row) if spread is Spread.RANGE else row.std(ddof=1))


def _mean_spread(row: Floats, spread: Spread) -> float:
    constants: ChartConstants = chart_constants(len(row))
    return constants.d2 if spread is Spread.RANGE else constants.c4


def _sd_spread(row: Floats, spread: Spread) -> float:
    constants = chart_constants(len(row))
    return constants.d3 if spread is Spread.RANGE else constants.sd_of_sd
