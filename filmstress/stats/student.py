"""Student's t for whole arrays, one column a number of degrees of freedom."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def t_cdf_of(t: Floats, dof: Floats) -> Floats:
    """P(T <= t) for an array of shape (m, n) with ``dof`` of shape (n,); infinite is normal."""
    # Imported here: nothing on the way to a single wafer's stress needs it.
    from scipy.special import ndtr, stdtr

    few = np.isfinite(dof)
    out = np.empty_like(t)
    out[:, ~few] = ndtr(t[:, ~few])
    out[:, few] = stdtr(dof[few], t[:, few])
    return out
