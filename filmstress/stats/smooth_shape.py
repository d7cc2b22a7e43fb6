"""The smooth shape of a trace: Legendre orders 0 to 6 together, with their covariance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from filmstress.records.curvature import SmoothShape
from filmstress.stats.lack_of_fit import ORDERS, RicherFit
from filmstress.stats.quadratic_fit import QuadraticFit

HIGHEST = ORDERS[-1]


def smooth_shape(
    fit: QuadraticFit, richer: RicherFit | None, *, plain: bool = False
) -> SmoothShape:
    """Parabola and orders 3 to 6 as one polynomial.

    Parameters
    ----------
    fit : QuadraticFit
        Of the trace.
    richer : RicherFit or None
        From ``richer_fit`` of the same fit, up to the choice of its parabola; None: the parabola
        is all there is.
    plain : bool
        Whether the parabola that is told is the plain least-squares one, which is blind to orders 3
        to 6; the weighted one is not quite.

    Notes
    -----
    With X1 the parabola's regressors, X2 those of orders 3 to 6 and V the noise, the weighted
    parabola reads b1 + (X1' V^-1 X1)^-1 X1' V^-1 X2 b2.  That matrix is -C12 C22^-1 of the
    covariance C of both together (inverse of a matrix in blocks).
    """
    h = fit.blocks.half_length
    c = fit.parabola.curvature * h**2
    coefficients = np.zeros(HIGHEST + 1)
    coefficients[:3] = fit.offset + c / 6.0, fit.tilt * h, c / 3.0
    covariance = np.zeros((HIGHEST + 1, HIGHEST + 1))
    reads = np.zeros(HIGHEST + 1)
    reads[2] = 3.0 / h**2
    dof = float(fit.dof)
    if richer is None:
        # offset, tilt, curvature back to Legendre coefficients.
        back = np.array([[1.0, 0.0, h**2 / 6.0], [0.0, h, 0.0], [0.0, 0.0, h**2 / 3.0]])
        covariance[:3, :3] = back @ fit.covariance @ back.T
    else:
        p = fit.regressors.shape[0]
        # Waves fitted along stand between the parabola's coefficients and the higher orders'.
        place = np.array([0, 1, 2, *range(p, p + len(ORDERS))])
        weight = richer.mean.weight[:, 0] * richer.fits.scale[:, 0]
        every = richer.scale**2 * np.tensordot(weight, richer.fits.inverse_normal, axes=1)
        coefficients += richer.scale * richer.mean.coefficients[place, 0]
        covariance = every[np.ix_(place, place)]
        dof = float(richer.mean.dof[0])
        if not plain:
            reads[3:] = -reads[2] * np.linalg.solve(covariance[3:, 3:], covariance[3:, 2])
    return SmoothShape(fit.centre, h, coefficients, covariance, dof, reads)


def power_matrix(shape: SmoothShape, reach: float) -> NDArray[np.float64]:
    """Matrix from a shape's coefficients to those of powers of x / reach, 0 to 6, shape (7, 7)."""
    # Legendre's (j + 1) P_j+1 = (2 j + 1) t P_j - j P_j-1, with t = slope (x / reach) + start.
    slope, start = reach / shape.half_length, -shape.centre / shape.half_length
    columns = np.zeros((HIGHEST + 1, HIGHEST + 1))
    columns[0, 0] = 1.0
    columns[:2, 1] = start, slope
    for j in range(1, HIGHEST):
        times_t = start * columns[:, j]
        times_t[1:] += slope * columns[:-1, j]
        columns[:, j + 1] = ((2 * j + 1) * times_t - j * columns[:, j - 1]) / (j + 1)
    return columns
