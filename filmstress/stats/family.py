"""What a family of residual noises offers to a fit, along a line or over an area."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Family(Protocol):
    """Noises of every correlation length and mixture with white noise."""

    @property
    def length(self) -> Floats:
        """Correlation length over the extent of each member, shape (members,) [1]."""

    @property
    def white_share(self) -> Floats:
        """Share of white noise in the variance of a mean, shape (members,) [1]."""

    @property
    def log_det(self) -> Floats:
        """Logarithm of |V|, shape (members,)."""

    def whiten(self, columns: Floats) -> Floats:
        """Turn V into the unit matrix for every member: (m, c) to (m, c, members)."""
