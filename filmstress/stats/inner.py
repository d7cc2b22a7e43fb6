"""Inner product of two long vectors, the same however many threads the linear algebra runs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def inner(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Sum of the products of two vectors.

    ``one @ other`` of 10 000 numbers and more is shared out among threads, and its last digits
    then depend on their number: a lot must not, wherever it is measured.
    """
    return float(np.einsum("i,i->", one, other))
