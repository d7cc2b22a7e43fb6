"""Charts that see small lasting shifts: the moving average with fading memory, and sums."""

from __future__ import annotations

from dataclasses import dataclass

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
    side : "above", "below" or ""
        Which sum first passed the threshold; empty where none did.
    began : int or None
        Where that sum last left 0: about when the shift began.
    shift : float or None
        Estimated shift of the mean since then, at the first signal [unit], signed.
    reference : Reference
        What centre and sigma were taken from.
    """

    high: Floats
    low: Floats
    threshold: float
    outside: tuple[int, ...]
    side: str
    began: int | None
    shift: float | None
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
    side, began, shift = "", None, None
    if outside:
        end = outside[0]
        side = "above" if high[end] > limit else "below"
        sums = high if side == "above" else low
        zeros = np.flatnonzero(sums[: end + 1] == 0.0)
        began = int(zeros[-1]) + 1 if len(zeros) else 0
        size = slack + float(sums[end]) / (end + 1 - began)
        shift = size if side == "above" else -size
    return CusumChart(high, low, limit, outside, side, began, shift, reference)


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
