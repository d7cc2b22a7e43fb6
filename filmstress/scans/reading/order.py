"""Positions in strictly increasing order, or a refusal where they are not those of one scan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.reading.numerals import counted

Floats = NDArray[np.float64]

# A stage that dithers steps back by a few points at most; a new start goes back by many.
MAX_STEPS_BACK = 10.0
MAX_SHARE_BACK = 0.1

_BACKWARDS = "positions ran backwards: rows put in order"


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
    if bool((x[1:] < x[:-1]).all()):
        return Ordered(x[::-1], z[::-1], notes=(_BACKWARDS,))
    back, backwards = _least_steps_back(x)
    limit = _limit(x)
    if float(back.max()) > limit:
        return _turn(x, limit)
    notes: list[str] = []
    out_of_order = int(np.count_nonzero(back))
    if backwards:
        notes.append(_BACKWARDS)
    if out_of_order:
        notes.append(f"{counted(out_of_order, 'row')} stepped back: rows put in order of position")
    order = np.argsort(x, kind="stable")  # rows at one position stay in the order of the file
    x, z = x[order], z[order]
    new = np.concatenate(([True], x[1:] > x[:-1]))
    starts = np.flatnonzero(new)
    merged = len(x) - len(starts)
    if not merged:
        return Ordered(x, z, notes=tuple(notes))
    means = np.add.reduceat(z, starts) / np.diff(np.append(starts, len(x)))
    return Ordered(x[starts], means, merged, int(order[~new].min()), tuple(notes))


def turns_back(x: Floats) -> bool:
    """Whether positions are not those of one scan in one direction."""
    if bool((x[1:] > x[:-1]).all()) or bool((x[1:] < x[:-1]).all()):
        return False
    return float(_least_steps_back(x)[0].max()) > _limit(x)


def _limit(x: Floats) -> float:
    """How far positions of one scan may step back."""
    span = float(np.ptp(x))
    return min(MAX_STEPS_BACK * span / (len(x) - 1), MAX_SHARE_BACK * span)


def _least_steps_back(x: Floats) -> tuple[Floats, bool]:
    """How far each position lies back, in the direction in which they do less; is it backwards."""
    back, back_reversed = _steps_back(x), _steps_back(-x)
    backwards = bool(back_reversed.max() < back.max())
    return (back_reversed if backwards else back), backwards


def _steps_back(x: Floats) -> Floats:
    """How far each position lies behind the farthest one before it."""
    back: Floats = np.maximum.accumulate(x)
    back -= x
    return back


def _turn(x: Floats, limit: float) -> TurnsBack:
    """Find where the first scan of several ends, in the direction that most steps take."""
    steps = np.diff(x)
    up, down = np.count_nonzero(steps > 0), np.count_nonzero(steps < 0)
    if down > up or (down == up and np.argmax(x) < np.argmin(x)):
        x = -x
    back = _steps_back(x)
    beyond = int(np.argmax(back > limit))
    last_in_order = int(np.flatnonzero(back[:beyond] == 0.0)[-1])
    return TurnsBack(last_in_order + 1, float(back.max()))
