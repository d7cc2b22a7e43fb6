"""Propagation of distributions by Monte Carlo, and whether the first order stands beside it.

Draws are made in batches until the results have settled to a numerical tolerance (the adaptive
procedure of JCGM 101:2008, 7.9).  Nothing but the outputs is kept of a batch.

References
----------
JCGM 101:2008, Evaluation of measurement data: Supplement 1 to the GUM, Propagation of
distributions using a Monte Carlo method: 7.7 (coverage intervals), 7.9 (adaptive procedure), 8
(validation of the GUM's law of propagation).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import UsageError
from filmstress.records.propagated import Propagated
from filmstress.stats.draws import Draws, Variate

Floats = NDArray[np.float64]
Model = Callable[[Floats], Floats]
"""Reduced inputs, shape (inputs, draws), to outputs, shape (outputs, draws)."""

SEED = 101
MOST_DRAWS = 1_000_000
# Outputs kept as deviations in units of about u: single precision is a ten-millionth of that.
_KEPT = np.float32
_LEVELS = 1_001
_SAMPLE = 100_000
# Enough to tell about where the outputs lie and how far they spread.
_PILOT = 500
# An input that moves an output by this share of its spread does not shape it.
_UNFELT = 1e-6


def tolerance_of(u: float, digits: int = 2) -> float:
    """Numerical tolerance of a standard uncertainty: half a unit of its last significant digit.

    Parameters
    ----------
    u : float
        Standard uncertainty, > 0 and finite.
    digits : int
        How many digits of it are regarded as meaningful, usually one or two.

    References
    ----------
    JCGM 101:2008, 7.9.2.
    """
    if not (u > 0.0 and math.isfinite(u)):
        raise UsageError(f"a standard uncertainty of {u!r} came, a number above 0 is wanted")
    place = math.floor(math.log10(u)) - digits + 1
    # 0.0996 to two digits is 0.10, whose last digit stands one place higher.
    if round(u / 10.0**place) >= 10**digits:
        place += 1
    return 0.5 * 10.0**place


def interval_ranks(count: int, p: float) -> tuple[int, int]:
    """How many draws an interval spans, and at which one (from 0) the symmetric one begins.

    References
    ----------
    JCGM 101:2008, 7.7.1 and 7.7.2.
    """
    spanned = min(_half_up(p * count), count - 1)
    first = _half_up(0.5 * (count - spanned)) - 1
    return spanned, min(max(first, 0), count - 1 - spanned)


def _half_up(number: float) -> int:
    # p M is meant as it is written: 0.95 of 10 000 is 9500, whatever binary makes of it.
    return math.floor(round(number, 6) + 0.5)


def symmetric_interval(ordered: NDArray[np.floating], p: float) -> tuple[float, float]:
    """Probabilistically symmetric interval of sorted draws (JCGM 101:2008, 7.7.2)."""
    spanned, first = interval_ranks(ordered.size, p)
    return float(ordered[first]), float(ordered[first + spanned])


def shortest_interval(ordered: NDArray[np.floating], p: float) -> tuple[float, float]:
    """Shortest interval of sorted draws (JCGM 101:2008, 7.7.4)."""
    spanned, _ = interval_ranks(ordered.size, p)
    first = int(np.argmin(ordered[spanned:] - ordered[: ordered.size - spanned]))
    return float(ordered[first]), float(ordered[first + spanned])


def propagate(
    model: Model,
    variates: Sequence[Variate],
    *,
    seed: int = SEED,
    p: float = 0.95,
    digits: int = 2,
    tolerances: Sequence[float] | None = None,
    most: int = MOST_DRAWS,
) -> tuple[Propagated, ...]:
    """Distributions of a model's outputs.

    Parameters
    ----------
    model : callable
        From reduced inputs ((X - estimate) / u, one row an input) to outputs (one row an output).
    variates : sequence of Variate
        What the rows are.
    seed : int
        The same seed gives the same numbers.
    p : float
        Coverage probability.
    digits : int
        Of the standard uncertainties that are regarded as meaningful; the draws go on until twice
        the standard deviation of each result is below half a unit of the last of them.
    tolerances : sequence of float, optional
        In place of what ``digits`` say, one an output.
    most : int
        Draws after which it ends in any case; a result says whether it settled.

    Returns
    -------
    tuple of Propagated
        One an output.

    Notes
    -----
    An input with two degrees of freedom or fewer has no variance, and then no output that it
    reaches has a standard uncertainty: it is infinite, and only the intervals settle.

    References
    ----------
    JCGM 101:2008, 7.9.4: batches of max(10^4, 100/(1 - p)) draws.
    """
    if not 0.0 < p < 1.0:
        raise UsageError(f"a coverage probability of {p!r} came, a number in 0..1 is wanted")
    batch = max(10_000, math.ceil(round(100.0 / (1.0 - p), 6)))
    draws = Draws(variates, seed)
    centre, size = _about(model, variates, seed)
    limit = max(2, math.ceil(most / batch))
    # Memory that is not yet written to is not yet taken.
    kept = np.empty((centre.size, limit * batch), dtype=_KEPT)
    found = np.empty((limit, centre.size, 4))
    moments = _has_moments(model, variates, size)
    done = 0
    while done < limit:
        place = kept[:, done * batch : (done + 1) * batch]
        found[done] = _batch(model, draws, centre, size, place, p)
        done += 1
        if done > 1 and _settled(found[:done], moments, size, digits, tolerances).all():
            break
    settled = _settled(found[:done], moments, size, digits, tolerances)
    return tuple(
        _summary(
            kept[row, : done * batch],
            p,
            centre=float(centre[row, 0]),
            size=float(size[row, 0]),
            found=found[:done, row],
            has_moments=bool(moments[row]),
            settled=bool(settled[row]),
        )
        for row in range(centre.size)
    )


def _about(model: Model, variates: Sequence[Variate], seed: int) -> tuple[Floats, Floats]:
    """Roughly the middle and the spread of every output, shape (outputs, 1) each."""
    tried = np.sort(np.asarray(model(Draws(variates, seed).next(_PILOT))), axis=1)
    centre, low, high = (tried[:, [int(share * (_PILOT - 1))]] for share in (0.5, 0.025, 0.975))
    size = 0.25 * (high - low)
    return centre, np.where(size > 0.0, size, 1.0)


def _has_moments(model: Model, variates: Sequence[Variate], size: Floats) -> NDArray[np.bool_]:
    """Whether an output has a standard uncertainty, shape (outputs,)."""
    wild = [number for number, one in enumerate(variates) if math.isinf(one.variance)]
    if not wild:
        return np.ones(len(size), dtype=bool)
    moved = np.eye(len(variates))[:, wild]
    apart = np.asarray(model(moved)) - np.asarray(model(-moved))
    return np.asarray(np.all(abs(apart) < _UNFELT * size, axis=1))


def _batch(
    model: Model, draws: Draws, centre: Floats, size: Floats, place: NDArray[np.float32], p: float
) -> Floats:
    """Fill one batch; mean, standard deviation and interval ends of its outputs, reduced."""
    count = place.shape[1]
    reduced = np.asarray(model(draws.next(count))) - centre
    reduced /= size
    place[:] = reduced
    mean = reduced.mean(axis=1)
    deviation = reduced.std(axis=1, ddof=1)
    spanned, first = interval_ranks(count, p)
    ranked = np.partition(place, (first, first + spanned), axis=1)
    ends = ranked[:, [first, first + spanned]].astype(np.float64)
    return np.column_stack([mean, deviation, ends])


def _settled(
    found: Floats,
    moments: NDArray[np.bool_],
    size: Floats,
    digits: int,
    tolerances: Sequence[float] | None,
) -> NDArray[np.bool_]:
    """Whether twice the standard deviation of every result is within the tolerance."""
    batches = len(found)
    doubt = 2.0 * found.std(axis=0, ddof=1) / math.sqrt(batches)
    doubt[~moments, :2] = 0.0
    scale = size[:, 0]
    if tolerances is None:
        spread = np.where(moments, found[:, :, 1].mean(axis=0), 0.0)
        # Where there is no standard uncertainty a quarter of the interval stands for it.
        width = 0.25 * (found[:, :, 3] - found[:, :, 2]).mean(axis=0)
        u = np.where(moments, spread, width) * scale
        allowed = np.array([tolerance_of(one, digits) if one > 0.0 else math.inf for one in u])
    else:
        allowed = np.asarray(tolerances, dtype=np.float64)
    return np.asarray(np.all(doubt <= (allowed / scale)[:, None], axis=1))


def _summary(
    kept: NDArray[np.float32],
    p: float,
    *,
    centre: float,
    size: float,
    found: Floats,
    has_moments: bool,
    settled: bool,
) -> Propagated:
    batches, count = len(found), kept.size
    batch = count // batches
    means, deviations = found[:, 0], found[:, 1]
    mean = float(means.mean())
    # Sum of squares within batches and between them.
    within = (batch - 1.0) * float(np.sum(deviations**2))
    between = batch * float(np.sum((means - mean) ** 2))
    deviation = math.sqrt((within + between) / (count - 1.0))
    levels = _levels(kept)
    _sort_tails(kept, p)

    def ends(pair: tuple[float, float]) -> tuple[float, float]:
        return centre + size * pair[0], centre + size * pair[1]

    low, high = ends(symmetric_interval(kept, p))
    short_low, short_high = ends(shortest_interval(kept, p))
    return Propagated(
        draws=count,
        value=centre + size * (mean if has_moments else float(levels[_LEVELS // 2])),
        u=size * deviation if has_moments else math.inf,
        p=p,
        low=low,
        high=high,
        shortest_low=short_low,
        shortest_high=short_high,
        settled=settled,
        levels=centre + size * levels,
    )


def _sort_tails(kept: NDArray[np.float32], p: float) -> None:
    """Sort in place as far as the ends of intervals reach: a whole sort takes thrice as long."""
    spanned, _ = interval_ranks(kept.size, p)
    tail = kept.size - spanned
    if tail >= spanned:
        kept.sort()
        return
    kept.partition((tail, spanned))
    kept[:tail].sort()
    kept[spanned:].sort()


def _levels(kept: NDArray[np.float32]) -> Floats:
    """Values at evenly spaced probabilities, from draws taken at even steps."""
    some = np.sort(kept[:: max(1, kept.size // _SAMPLE)])
    levels = some[np.linspace(0, some.size - 1, _LEVELS).astype(np.intp)].astype(np.float64)
    levels[0], levels[-1] = kept.min(), kept.max()
    return levels


def probability_between(
    propagated: Propagated, *, lower: float | None = None, upper: float | None = None
) -> float:
    """Probability that an output lies within limits, None being no limit on that side.

    Known to about a thousandth; a probability of 0 or 1 means less than one draw beyond.
    """
    levels = propagated.levels
    rank = np.linspace(0.0, 1.0, levels.size)
    below = 0.0 if lower is None else float(np.interp(lower, levels, rank, left=0.0, right=1.0))
    until = 1.0 if upper is None else float(np.interp(upper, levels, rank, left=0.0, right=1.0))
    return max(until - below, 0.0)


def agrees(
    propagated: Propagated, *, low: float | None, high: float | None, tolerance: float
) -> bool:
    """Whether both ends of a first-order interval lie within the tolerance of the drawn ones.

    References
    ----------
    JCGM 101:2008, 8.1: |y - U - y_low| and |y + U - y_high| at most delta.
    """
    if low is None or high is None:
        return False
    return max(abs(low - propagated.low), abs(high - propagated.high)) <= tolerance
