"""The smooth shape of a direction's differences, read at places along it by rows of a relation."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.directions import Direction
from filmstress.stats.smooth_shape import power_matrix

Floats = NDArray[np.float64]

SIGNIFICANT = 0.01
# Odd about the centre are powers 3 and 5; two places tell them.
_ODD_PLACES = np.array([0.5, 1.0])


@dataclass(frozen=True, slots=True, eq=False)
class Along:
    """Curvatures of one direction, repeats averaged [1/m].

    Attributes
    ----------
    x : ndarray, shape (n,)
        Places [m].
    curvature, u : ndarray, shape (n,)
        What stands for the film's force there, and its standard uncertainty from the fit.
    even, odd : ndarray, shape (n,)
        Its parts about the wafer's centre.
    dof : float
        Of all uncertainties.
    mean, mean_u : float
        Over the area.
    apart : ndarray, shape (lines,)
        For every line, the area's mean less what its parabola reads.
    apart_u : float
        Standard uncertainty of the mean of ``apart`` from the fits.
    odd_share, odd_significant
        As in `filmstress.records.uneven.UnevenStress`.
    """

    x: Floats
    curvature: Floats
    u: Floats
    even: Floats
    odd: Floats
    dof: float
    mean: float
    mean_u: float
    apart: Floats
    apart_u: float
    odd_share: float
    odd_significant: bool


def along(
    direction: Direction,
    x: Floats,
    rows: Floats,
    *,
    reach: float,
    mean_row: Floats | None = None,
) -> Along:
    """Read the shapes of a direction's lines.

    Parameters
    ----------
    direction : Direction
        Every line with its smooth shape.
    x : ndarray, shape (n,)
        Places along the direction's azimuth [m].
    rows : ndarray, shape (n, 7)
        From powers of x/reach to curvature times reach^2.
    reach : float
        [m].
    mean_row : ndarray, shape (7,), optional
        The same for the mean over the area; without it that mean is 0.
    """
    n = len(direction.lines)
    mean_row = np.zeros(7) if mean_row is None else mean_row
    far = np.zeros((2, 7))
    far[:, 3], far[:, 5] = 6.0 * _ODD_PLACES, 20.0 * _ODD_PLACES**3
    every = np.concatenate([rows, mean_row[None], far]) / reach**2
    values, covariance = np.zeros(len(every)), np.zeros((len(every), len(every)))
    powers, apart, apart_variance, least = np.zeros(7), [], 0.0, math.inf
    for line in direction.lines:
        shape = line.change.shape
        if shape is None:
            raise ValueError("the line's shape was not looked at")
        # A line scanned from the other side is turned round.
        turn = 1.0 if math.cos(line.azimuth - direction.azimuth) > 0.0 else -1.0
        matrix = turn ** np.arange(7)[:, None] * power_matrix(shape, reach)
        reads = every @ matrix
        values += reads @ shape.coefficients / n
        covariance += reads @ shape.covariance @ reads.T / n**2
        powers += matrix @ shape.coefficients / n
        difference = mean_row @ matrix / reach**2 - shape.parabola_reads
        apart.append(
            float(mean_row @ matrix @ shape.coefficients) / reach**2 - line.change.curvature
        )
        apart_variance += float(difference @ shape.covariance @ difference) / n**2
        least = min(least, shape.dof)
    is_odd = np.arange(7) % 2 == 1
    curvature = values[: x.size]
    odd = rows @ np.where(is_odd, powers, 0.0) / reach**2
    departure = curvature - curvature.mean()
    size = float(np.sqrt(np.mean(departure**2)))
    return Along(
        x=x,
        curvature=curvature,
        u=np.sqrt(np.maximum(covariance.diagonal()[: x.size], 0.0)),
        even=curvature - odd,
        odd=odd,
        dof=least * n,
        mean=float(values[x.size]),
        mean_u=math.sqrt(max(covariance[x.size, x.size], 0.0)),
        apart=np.array(apart),
        apart_u=math.sqrt(max(apart_variance, 0.0)),
        odd_share=float(np.sqrt(np.mean((odd - odd.mean()) ** 2))) / size if size else 0.0,
        odd_significant=_exceeds(values[-2:], covariance[-2:, -2:], least * n),
    )


def _exceeds(values: Floats, covariance: Floats, dof: float) -> bool:
    """Whether two values together are more than their noise makes, at the 1 % level."""
    if not covariance.any():
        return bool(values.any())
    ratio = float(values @ np.linalg.solve(covariance, values)) / 2.0
    # P(F > ratio) for 2 and dof degrees of freedom (Abramowitz & Stegun 1964, 26.6.4).
    tail = math.exp(-ratio) if math.isinf(dof) else (1.0 + 2.0 * ratio / dof) ** (-0.5 * dof)
    return tail < SIGNIFICANT
