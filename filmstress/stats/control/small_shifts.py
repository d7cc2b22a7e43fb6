"""Charts that see small lasting shifts: the moving average with fading memory, and sums."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import UsageError
from filmstress.stats.control.chart import Chart, Floats, Kind, Reference, row_of


def ewma_chart(
    values: ArrayLike, reference: Reference, *, weight: float = 0.2, width: float = 2.86
) -> Chart:
    """Exponentially weighted moving average, with its exact limits from the first point on.

    Parameters
    ----------
    values : array_like, shape (n,)
        In order of time [unit].
    reference : Reference
        Centre and sigma of one of the values.
    weight : float
        Lambda, the weight of the newest value, above 0 and at most 1.
    width : float
        L, half-width of the limits in standard deviations of the average.  The default pair has
        about the false-alarm rate of three-sigma limits (an average run of 371 points).

    Raises
    ------
    UsageError
        If ``weight`` or ``width`` is out of range.

    Notes
    -----
    z_i = lambda x_i + (1 - lambda) z_(i-1), z_0 the centre; its variance is
    sigma^2 lambda / (2 - lambda) (1 - (1 - lambda)^(2 i)).  Neighbouring points are strongly
    correlated by construction, so run rules do not apply.

    References
    ----------
    S. W. Roberts, Technometrics 1 (1959) 239, doi:10.1080/00401706.1959.10489860.
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4, doi:10.18434/M32189.
    """
    row = row_of(values)
    check_ewma(weight, width)
    points = np.empty(len(row))
    level = reference.centre
    for i, value in enumerate(row):
        level += weight * (value - level)
        points[i] = level
    steps = np.arange(1, len(row) + 1)
    fading = 1.0 - (1.0 - weight) ** (2.0 * steps)
    sigma = reference.sigma * np.sqrt(weight / (2.0 - weight) * fading)
    centre = np.full(len(row), reference.centre)
    return Chart(
        Kind.EWMA,
        points=points,
        centre=centre,
        sigma=sigma,
        lower=centre - width * sigma,
        upper=centre + width * sigma,
        reference=reference,
    )


@dataclass(frozen=True, slots=True)
class Passing:
    """A cumulative sum above its threshold, once from where it left 0.

    Attributes
    ----------
    side : "above" or "below"
        Which sum.
    began : int
        Where the sum last left 0, counted from 0: about when the shift began.
    told, last : int
        Where it first, and last, lay above the threshold.
    shift : float
        Estimated shift of the mean from ``began`` to ``told`` [unit], signed.
    """

    side: str
    began: int
    told: int
    last: int
    shift: float


@dataclass(frozen=True, slots=True, eq=False)
class CusumChart:
    """Tabular cumulative sums.

    Attributes
    ----------
    high, low : ndarray, shape (n,)
        Sums of what lies above, and below, the centre by more than the allowance [unit], >= 0.
    threshold : float
        A sum above it signals [unit].
    outside : tuple of int
        Points where a sum lies above the threshold, counted from 0.
    passings : tuple of Passing
        Every time that a sum passed it, on either side, in the order in which they were told.
    reference : Reference
        What centre and sigma were taken from.
    """

    high: Floats
    low: Floats
    threshold: float
    outside: tuple[int, ...]
    passings: tuple[Passing, ...]
    reference: Reference


def cusum_chart(
    values: ArrayLike, reference: Reference, *, allowance: float = 0.5, threshold: float = 4.77
) -> CusumChart:
    """Cumulative sums of what exceeds the centre by more than an allowance, on either side.

    Parameters
    ----------
    values : array_like, shape (n,)
        In order of time [unit].
    reference : Reference
        Centre and sigma of one of the values.
    allowance : float
        k, in sigma: half the shift that is to be found quickly.
    threshold : float
        h, in sigma.  The default pair has the false-alarm rate of three-sigma limits (an average
        run of 369 points).

    Raises
    ------
    UsageError
        If ``allowance`` is negative or ``threshold`` not above 0.

    References
    ----------
    E. S. Page, Biometrika 41 (1954) 100, doi:10.1093/biomet/41.1-2.100.
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3, doi:10.18434/M32189.
    """
    row = row_of(values)
    check_cusum(allowance, threshold)
    slack, limit = allowance * reference.sigma, threshold * reference.sigma
    high, low = (_sums(sign * (row - reference.centre) - slack) for sign in (1.0, -1.0))
    outside = tuple(int(i) for i in np.flatnonzero((high > limit) | (low > limit)))
    passings = [*_passings(high, limit, slack, 1.0), *_passings(low, limit, slack, -1.0)]
    passings.sort(key=lambda one: one.told)
    return CusumChart(high, low, limit, outside, tuple(passings), reference)


def _passings(sums: Floats, limit: float, slack: float, sign: float) -> list[Passing]:
    """One for each stretch between zeros of a sum in which it lies above the threshold."""
    found: list[Passing] = []
    began = 0
    for i, total in enumerate(sums):
        if total == 0.0:
            began = i + 1
        elif total > limit and found and found[-1].began == began:
            found[-1] = replace(found[-1], last=i)
        elif total > limit:
            size = slack + float(total) / (i + 1 - began)
            side = "above" if sign > 0.0 else "below"
            found.append(Passing(side, began, i, i, sign * size))
    return found


def _sums(steps: Floats) -> Floats:
    out = np.empty(len(steps))
    total = 0.0
    for i, step in enumerate(steps):
        total = max(0.0, total + float(step))
        out[i] = total
    return out


def check_ewma(weight: float, width: float) -> None:
    """Refuse settings of the moving average that are out of range."""
    if not (0.0 < weight <= 1.0 and 0.0 < width < 10.0):
        raise UsageError(
            f"a weight of {weight!r} and a width of {width!r} came, a weight above 0 up to 1 and a"
            " width above 0 are wanted",
            hint="0.2 and 2.86 suit most processes",
        )


def check_cusum(allowance: float, threshold: float) -> None:
    """Refuse settings of the cumulative sums that are out of range."""
    if not (0.0 <= allowance < 10.0 and 0.0 < threshold < 1000.0):
        raise UsageError(
            f"an allowance of {allowance!r} and a threshold of {threshold!r} came, an allowance of"
            " at least 0 and a threshold above 0 are wanted",
            hint="both are in sigma; 0.5 and 4.77 suit most processes",
        )
