"""Positions in strictly increasing order, or a refusal where they are not those of one scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# A stage that dithers steps back by a few points at most; a new start goes back by many.
MAX_STEPS_BACK = 10.0
MAX_SHARE_BACK = 0.1


@dataclass(frozen=True, slots=True)
class Ordered:
    """Points in order.

    Attributes
    ----------
    x, z : ndarray of float64, shape (n,)
        Strictly increasing positions, and heights [m].
    merged : int
        Points that were averaged into another one at the same position.
    first_merged : int
        Index, in the order of the file, of the first of them.
    notes : tuple of str
        What was done.
    """

    x: Floats
    z: Floats
    merged: int = 0
    first_merged: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class TurnsBack:
    """The point, by index, at which positions turn back, and by how much [m]."""

    index: int
    back_m: float


def put_in_order(x: Floats, z: Floats) -> Ordered | TurnsBack:
    """Put points in order of position; average heights at equal positions.

    Parameters
    ----------
    x, z : ndarray of float64, shape (n,)
        Positions, not all equal, and heights [m].

    Returns
    -------
    Ordered or TurnsBack
        Reversed scans are turned round, small steps back sorted.  A step back by more than ten
        mean steps, or a tenth of the length, is not one scan.
    """
    if bool((x[1:] > x[:-1]).all()):
        return Ordered(x, z)
    notes: list[str] = []
    backwards = x[-1] < x[0]
    ascending = -x if backwards else x
    so_far = np.maximum.accumulate(ascending)
    back = so_far - ascending
    span = float(so_far[-1] - ascending.min())
    limit = min(MAX_STEPS_BACK * span / (len(x) - 1), MAX_SHARE_BACK * span)
    if float(back.max()) > limit:
        index = int(np.argmax(back > limit))
        return TurnsBack(index, float(back[index]))
    if backwards:
        x, z = x[::-1], z[::-1]
        notes.append("positions ran backwards: rows put in order")
    out_of_order = int(np.count_nonzero(back))
    order = np.arange(len(x))
    if out_of_order:
        order = np.argsort(x, kind="stable")
        x, z = x[order], z[order]
        notes.append(f"{out_of_order} rows stepped back: rows put in order of position")
    starts = np.flatnonzero(np.concatenate(([True], x[1:] > x[:-1])))
    merged = len(x) - len(starts)
    if not merged:
        return Ordered(x, z, notes=tuple(notes))
    repeats = np.ones(len(x), dtype=bool)
    repeats[starts] = False
    in_file = order[repeats]
    first = int((len(x) - 1 - in_file if backwards else in_file).min())
    means = np.add.reduceat(z, starts) / np.diff(np.append(starts, len(x)))
    return Ordered(x[starts], means, merged, first, tuple(notes))
