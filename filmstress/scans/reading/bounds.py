"""What a scan is at least and at most, whatever file it comes from."""

from __future__ import annotations

MIN_POINTS = 10
MIN_LENGTH_M, MAX_LENGTH_M = 1e-3, 1.0
MAX_RANGE_M = 20e-3
