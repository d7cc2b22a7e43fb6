"""Which parts of a scan a step is read from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# A part must hold this much of its third of a width, and this many points.
_LEAST_PART = 0.5
_LEAST_POINTS = 3
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Layout:
    """Parts of one step: those on the level of the middle (or of the left side), and the others."""

    edges: tuple[float, ...]
    width: float
    inner: tuple[tuple[float, float], ...]
    outer: tuple[tuple[float, float], ...]
    window: tuple[float, float]
    inner_high: bool
    full: bool


def layouts_of(x: Floats, edges: Sequence[float], *, first_up: bool) -> list[Layout]:
    """The steps that the edges make: all grooves or all stripes, or the one edge."""
    low, high = float(x[0]), float(x[-1])
    if len(edges) == 1:
        one = _one_edge(x, edges[0], low, high, left_high=not first_up)
        return [] if one is None else [one]
    found: list[list[Layout]] = []
    for first in (0, 1):
        some = []
        for i in range(first, len(edges) - 1, 2):
            before = edges[i - 1] if i else None
            after = edges[i + 2] if i + 2 < len(edges) else None
            high_inside = first_up == (i % 2 == 0)
            one = _between(x, edges[i], edges[i + 1], (before, after), inner_high=high_inside)
            if one is not None:
                some.append(one)
        found.append(some)
    # Neighbouring grooves and stripes share their edges: one kind is used; with as many of both,
    # the grooves, whose levelling rests on the film.
    return max(found, key=lambda some: (len(some), bool(some) and not some[0].inner_high))


def _between(
    x: Floats,
    left: float,
    right: float,
    beyond: tuple[float | None, float | None],
    *,
    inner_high: bool,
) -> Layout | None:
    width, middle = right - left, 0.5 * (left + right)
    third = width / 3.0
    inside = (middle - 0.5 * third, middle + 0.5 * third)
    sides = [
        _side(x, left, width, beyond[0], towards=-1.0),
        _side(x, right, width, beyond[1], towards=1.0),
    ]
    kept = [side for side in sides if side is not None]
    if len(kept) < 2 or _points(x, *inside) < _LEAST_POINTS:
        return None
    full = all(abs(b - a - 2.0 * third) <= 0.05 * third for a, b in kept)
    window = (middle - 1.5 * width, middle + 1.5 * width)
    return Layout((left, right), width, (inside,), tuple(kept), window, inner_high, full)


def _side(
    x: Floats, edge: float, width: float, beyond: float | None, *, towards: float
) -> tuple[float, float] | None:
    """From a third of the width to a width beyond an edge, or to what ends before."""
    near, far = width / 3.0, width
    end = float(x[-1] if towards > 0.0 else x[0])
    reach = abs(end - edge)
    if beyond is not None:
        room = abs(beyond - edge)
        reach = min(reach, room - min(room, width) / 3.0)
    # Half a sampling interval: the last point stands for as much beyond it.
    slack = 0.5 * abs(end - edge) / max(_points(x, *sorted((edge, end))), 1)
    far = min(far, reach + slack)
    if far - near < _LEAST_PART * width / 3.0:
        return None
    low, high = sorted((edge + towards * near, edge + towards * far))
    return (low, high) if _points(x, low, high) >= _LEAST_POINTS else None


def _one_edge(x: Floats, edge: float, low: float, high: float, *, left_high: bool) -> Layout | None:
    width = min(edge - low, high - edge)
    inner, outer = (edge - width, edge - width / 3.0), (edge + width / 3.0, edge + width)
    if min(_points(x, *inner), _points(x, *outer)) < _LEAST_POINTS:
        return None
    window = (edge - width, edge + width)
    return Layout((edge,), width, (inner,), (outer,), window, left_high, full=False)


def _points(x: Floats, low: float, high: float) -> int:
    return int(np.count_nonzero(within(x, low, high)))


def within(x: Floats, low: float, high: float) -> Mask:
    """Points between two places, both ends included whatever rounding did to them."""
    slack = _SLACK * (high - low)
    return (x >= low - slack) & (x <= high + slack)
