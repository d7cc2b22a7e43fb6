"""Where positions turn back or start anew: the runs of a stage that scanned several times."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.reading.order import MAX_SHARE_BACK, MAX_STEPS_BACK

Floats = NDArray[np.float64]

# Fewer points between two runs are the stage's way back, and none is a scan.
SHORT = 10
# Where more of the points than this lie in short runs, the positions are in no order at all.
_MAX_SHARE_SHORT = 0.1


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs in one direction each, as pairs of first index and the one past the last.

    Attributes
    ----------
    parts : tuple of (int, int)
    limit : float
        How far a position may step back within a run [x].
    between : int
        Points on the way back between two runs, which belong to none.
    """

    parts: tuple[tuple[int, int], ...]
    limit: float
    between: int = 0


def find_runs(x: Floats) -> Runs | None:
    """Part positions into runs; None where they are in no order.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Positions in the order of the file, not all equal.

    Returns
    -------
    Runs or None
        A run ends at the farthest position before the stage comes back by more than it would by
        dithering: ten mean steps, or a tenth of the whole length.  Where it dwells at the turn the
        points are halved.
    """
    steps = np.diff(x)
    with np.errstate(over="ignore"):  # positions beyond all sense are refused by their length
        limit = min(MAX_STEPS_BACK * float(np.abs(steps).mean()), MAX_SHARE_BACK * float(np.ptp(x)))
    moving = np.flatnonzero(steps)
    up = steps[moving] > 0.0
    change = np.flatnonzero(up[1:] != up[:-1])
    # A local extreme reaches over all points that dwell there.
    first, last = moving[change] + 1, moving[change + 1]
    turns = _turns([float(x[0]), *x[first].tolist(), float(x[-1])], limit)
    firsts = [int(first[turn - 1]) for turn in turns]
    lasts = [int(last[turn - 1]) for turn in turns]
    starts = [one + (other - one) // 2 + 1 for one, other in zip(firsts, lasts, strict=True)]
    ends = list(starts)
    back = 0
    for number in range(len(turns) - 1):
        if lasts[number + 1] - lasts[number] < SHORT:
            # The way back: its two ends belong to the runs before and after it.
            ends[number], starts[number + 1] = lasts[number] + 1, firsts[number + 1]
            back += max(firsts[number + 1] - lasts[number] - 1, 0)
            starts[number], ends[number + 1] = -1, -1
    bounds = zip([0, *starts], [*ends, len(x)], strict=True)
    parts = tuple((start, end) for start, end in bounds if 0 <= start < end)
    short = back + sum(end - start for start, end in parts if end - start < SHORT)
    overlap = any(one[1] > other[0] for one, other in itertools.pairwise(parts))
    if overlap or short > _MAX_SHARE_SHORT * len(x):
        return None
    return Runs(parts, limit, back)


def _turns(values: list[float], limit: float) -> list[int]:
    """Numbers of the extremes at which a swing of more than the limit ends."""
    turns: list[int] = []
    low = high = farthest = values[0]
    direction, at = 0, 0
    for number, value in enumerate(values):
        if direction == 0:
            low, high = min(low, value), max(high, value)
            if high - value > limit or value - low > limit:
                direction = 1 if value - low > limit else -1
                farthest, at = value, number
        elif (value - farthest) * direction >= 0.0:
            farthest, at = value, number
        elif (farthest - value) * direction > limit:
            turns.append(at)
            direction, farthest, at = -direction, value, number
    return turns
