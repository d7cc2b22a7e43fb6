"""A coverage interval by moments beyond the first order: a cheap look at whether that is enough.

The model is expanded to second order in the reduced inputs; mean, variance, skewness and kurtosis
of that expansion give the ends of an interval (Cornish and Fisher).  It costs one call of the model
with some dozens of columns, in place of the many thousands of a Monte Carlo run, and only has to
say where such a run is worth its time.

References
----------
JCGM 100:2008, 5.1.2, note (second-order terms).  E. A. Cornish and R. A. Fisher, Rev. Inst. Int.
Stat. 5 (1938) 307 (quantiles from cumulants, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from filmstress.records.quantity import Shape
from filmstress.stats.draws import Variate

Floats = NDArray[np.float64]

# Cross terms are looked at between the inputs that matter most and all others: a product of two
# inputs neither of which matters does not either.
_LEADING = 3
# Below this share of the variance a few degrees of freedom do not shape the interval.
_SMALL_SHARE = 0.01
# Student's t with fewer has tails that no series reaches.
_TAME_DOF = 8.0
# The series falls short of what limits that dominate make; measured against Monte Carlo runs.
_FLATTER = 3.0
# Of the tolerance: what the series must leave for its own error.
_SURE = 0.8


def in_doubt(
    model: Callable[[Floats], Floats],
    variates: Sequence[Variate],
    *,
    low: float,
    high: float,
    tolerance: float,
    p: float = 0.95,
) -> bool:
    """Whether a first-order interval may be off by more than a tolerance.

    Parameters
    ----------
    model : callable
        From reduced inputs, shape (inputs, n), to outputs, of which the first is judged.
    variates : sequence of Variate
        The inputs.
    low, high : float
        Ends of its interval by the law of propagation of uncertainty [unit].
    tolerance : float
        [unit].
    p : float
        Coverage probability.

    Notes
    -----
    Errs on the side of doubt.
    """
    if not variates:
        return False
    centre, slope, bend = _expansion(model, len(variates))
    shares = slope**2 / max(float(slope @ slope), 1e-300)
    if any(
        one.shape is Shape.NORMAL and one.dof < _TAME_DOF and share > _SMALL_SHARE
        for one, share in zip(variates, shares, strict=True)
    ):
        return True
    # An input that matters as little as this may have any number of degrees of freedom.
    spread = np.array([one.variance if one.dof > 2.0 else 1.0 for one in variates])
    excess = np.array([one.excess if one.dof > 4.0 else 0.0 for one in variates])
    root = np.sqrt(spread)
    slope, bend = slope * root, bend * np.outer(root, root)
    mean, deviation, skewness, kurtosis = _moments(slope, bend, excess)
    if deviation == 0.0:
        return False
    z = NormalDist().inv_cdf(0.5 + 0.5 * p)
    doubt = 0.0
    for end, side in ((low, -z), (high, z)):
        bent = side + (side**2 - 1.0) * skewness / 6.0
        bent -= (2.0 * side**3 - 5.0 * side) * skewness**2 / 36.0
        flat = (side**3 - 3.0 * side) * kurtosis / 24.0
        off = abs(centre + mean + deviation * (bent + flat) - end)
        doubt = max(doubt, off + (_FLATTER - 1.0) * deviation * abs(flat))
    return doubt > _SURE * tolerance


def _expansion(model: Callable[[Floats], Floats], inputs: int) -> tuple[float, Floats, Floats]:
    """Output at the best estimates, slopes, and second derivatives, shape (inputs, inputs)."""
    one = np.eye(inputs)
    columns = np.hstack([np.zeros((inputs, 1)), one, -one])
    found = model(columns)[0]
    centre, up, down = float(found[0]), found[1 : inputs + 1], found[inputs + 1 :]
    slope = 0.5 * (up - down)
    bend = np.diag(up + down - 2.0 * centre)
    leading = np.argsort(-np.abs(slope))[:_LEADING]
    pairs = [(i, j) for i in leading.tolist() for j in range(inputs) if i != j]
    if pairs:
        both = np.array([one[i] + one[j] for i, j in pairs]).T
        cross = model(np.hstack([both, -both]))[0]
        cross = 0.5 * (cross[: len(pairs)] + cross[len(pairs) :]) - centre
        for (i, j), value in zip(pairs, cross.tolist(), strict=True):
            bend[i, j] = bend[j, i] = value - 0.5 * (bend[i, i] + bend[j, j])
    return centre, slope, bend


def _moments(slope: Floats, bend: Floats, excess: Floats) -> tuple[float, float, float, float]:
    """Shift of the mean, standard deviation, skewness and excess of a quadratic form.

    For inputs with unit variance that are symmetric; exact for normal ones.
    """
    own, squared = np.diag(bend), bend @ bend
    variance = float(slope @ slope + 0.5 * np.trace(squared) + 0.25 * own**2 @ excess)
    if variance <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    third = 3.0 * slope @ bend @ slope + 1.5 * (slope**2 * own) @ excess
    third += np.trace(squared @ bend)
    fourth = slope**4 @ excess + 12.0 * slope @ squared @ slope + 3.0 * np.trace(squared @ squared)
    deviation = variance**0.5
    return (
        0.5 * float(own.sum()),
        deviation,
        float(third) / deviation**3,
        float(fourth) / deviation**4,
    )
