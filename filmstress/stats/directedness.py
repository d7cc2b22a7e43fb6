"""Whether what is left over an area runs in one direction: rows offset against each other, say."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.area_means import AreaMeans

Floats = NDArray[np.float64]

# Isotropic noise passes this about once in fifty maps where it is smooth over a fifth of the area,
# less often where it is shorter or rougher; `tests.benchmarks.surface_coverage` has what fails.
DIRECTED = 3.0
_MIN_PAIRS = 10


def directedness(means: AreaMeans, residual: Floats) -> float:
    """How much more the residuals of neighbours differ one way than the other way.

    Parameters
    ----------
    means : AreaMeans
    residual : ndarray, shape (m,)
        Of the means.

    Returns
    -------
    float
        Ratio of the mean square differences, 1 or more: along columns against rows, or along one
        diagonal against the other, whichever differs more.  1 where too few squares have
        neighbours.
    """
    grid = np.full(means.filled.shape, np.nan)
    grid[means.filled] = residual
    opposed = (
        (grid[:, 1:] - grid[:, :-1], grid[1:] - grid[:-1]),
        (grid[1:, 1:] - grid[:-1, :-1], grid[1:, :-1] - grid[:-1, 1:]),
    )
    return max(_ratio(*pair) for pair in opposed)


def _ratio(one: Floats, other: Floats) -> float:
    squares = [differences[np.isfinite(differences)] ** 2 for differences in (one, other)]
    if min(part.size for part in squares) < _MIN_PAIRS:
        return 1.0
    low, high = sorted(float(part.mean()) for part in squares)
    return high / low if low > 0.0 else 1.0
