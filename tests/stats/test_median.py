"""The median against the standard library's."""

from __future__ import annotations

import statistics

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from filmstress.stats.median import median


@given(st.lists(st.floats(-1e9, 1e9), min_size=1, max_size=50))
def test_is_that_of_the_standard_library(values: list[float]) -> None:
    assert median(np.array(values)) == statistics.median(values)
