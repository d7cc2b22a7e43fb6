"""Few points that stand for many, where they are to be looked at and not computed with."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def telling_points(values: Floats, *, stretches: int) -> NDArray[np.intp]:
    """Places of points that show a long row of values: its spikes, its scatter, its mean.

    Of each stretch the lowest and the highest point stay, and the one that brings the mean of the
    three nearest to the mean of the stretch: where the scatter is about as wide on both sides, a
    running mean still shows the trend.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Finite.
    stretches : int
        At least 1.

    Returns
    -------
    ndarray of int, shape (m,), m <= max(n, 3 stretches + 2)
        In order, each once; the first and the last point are always among them.
    """
    if values.size <= 3 * stretches:
        return np.arange(values.size)
    size = -(-values.size // stretches)
    rows = np.append(values, np.full(-values.size % size, np.nan)).reshape(-1, size)
    lowest, highest = np.nanargmin(rows, axis=1), np.nanargmax(rows, axis=1)
    row = np.arange(rows.shape[0])
    wanted = 3.0 * np.nanmean(rows, axis=1) - rows[row, lowest] - rows[row, highest]
    middle = np.nanargmin(np.abs(rows - wanted[:, np.newaxis]), axis=1)
    chosen = np.concatenate([row * size + place for place in (lowest, highest, middle)])
    return np.unique(np.append(chosen, [0, values.size - 1]))
