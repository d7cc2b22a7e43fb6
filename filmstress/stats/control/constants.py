"""Constants of control charts, computed from their definitions for normal observations.

References
----------
ISO 7870-2, Control charts - Part 2: Shewhart control charts (the constants and their names).
H. L. Harter, Ann. Math. Statist. 31 (1960) 1122, doi:10.1214/aoms/1177705684 (moments of the
range).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

from filmstress.errors import UsageError

_REACH = 9.0
"""The standard normal distribution holds all but 2e-19 within this."""


@dataclass(frozen=True, slots=True)
class ChartConstants:
    """Constants for subgroups of ``size`` observations, with limits at three sigma.

    Attributes
    ----------
    size : int
        Observations in a subgroup.
    d2, d3 : float
        Mean and standard deviation of the range, in sigma.
    c4 : float
        Mean of the standard deviation (divisor n - 1), in sigma.
    A2, A3 : float
        Limits of the mean are the grand mean plus and minus A2 times the mean range, or A3 times
        the mean standard deviation.
    B3, B4, D3, D4 : float
        Lower and upper limit of the standard deviation and of the range, over their means.
    """

    size: int
    d2: float
    d3: float
    c4: float

    @property
    def A2(self) -> float:  # noqa: N802 - the standard's name
        """3 / (d2 sqrt(n))."""
        return 3.0 / (self.d2 * math.sqrt(self.size))

    @property
    def A3(self) -> float:  # noqa: N802
        """3 / (c4 sqrt(n))."""
        return 3.0 / (self.c4 * math.sqrt(self.size))

    @property
    def B3(self) -> float:  # noqa: N802
        """1 - 3 sqrt(1 - c4^2) / c4, at least 0."""
        return max(0.0, 1.0 - 3.0 * self.sd_of_sd / self.c4)

    @property
    def B4(self) -> float:  # noqa: N802
        """1 + 3 sqrt(1 - c4^2) / c4."""
        return 1.0 + 3.0 * self.sd_of_sd / self.c4

    @property
    def D3(self) -> float:  # noqa: N802
        """1 - 3 d3 / d2, at least 0."""
        return max(0.0, 1.0 - 3.0 * self.d3 / self.d2)

    @property
    def D4(self) -> float:  # noqa: N802
        """1 + 3 d3 / d2."""
        return 1.0 + 3.0 * self.d3 / self.d2

    @property
    def sd_of_sd(self) -> float:
        """Standard deviation of the standard deviation, in sigma."""
        return math.sqrt((1.0 - self.c4) * (1.0 + self.c4))


@cache
def chart_constants(size: int) -> ChartConstants:
    """Constants for subgroups of ``size`` observations, to better than 1e-9.

    Parameters
    ----------
    size : int
        From 2 up; tables end at 25, this does not.

    Raises
    ------
    UsageError
        If ``size`` is below 2.

    Notes
    -----
    With F the normal distribution function, the range R of n observations has::

        E R   = integral of 1 - F^n - (1 - F)^n
        E R^2 = 2 double integral over x < y of 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n
    """
    if size < 2:
        raise UsageError(
            f"a subgroup of {size} came, at least 2 observations are wanted",
            hint="single observations go on an individuals chart",
        )
    mean, square = _range_moments(size)
    log_c4 = math.lgamma(0.5 * size) - math.lgamma(0.5 * (size - 1))
    c4 = math.sqrt(2.0 / (size - 1)) * math.exp(log_c4)
    return ChartConstants(size, d2=mean, d3=math.sqrt(square - mean * mean), c4=c4)


def _range_moments(size: int) -> tuple[float, float]:
    # Imported here: charts alone need it.
    from scipy.special import ndtr

    nodes, weights = np.polynomial.legendre.leggauss(160)
    x, wx = _REACH * nodes, _REACH * weights
    below, above = ndtr(x), ndtr(-x)
    mean = float(wx @ (1.0 - below**size - above**size))
    # y runs from x to the far end: smooth over that triangle, so Gauss's rule is exact there.
    half = 0.5 * (_REACH - x)
    y = x[:, None] + half[:, None] * (1.0 + nodes)
    joint = 1.0 - ndtr(y) ** size - above[:, None] ** size + (ndtr(y) - below[:, None]) ** size
    return mean, float(2.0 * wx @ (half * (joint @ weights)))
