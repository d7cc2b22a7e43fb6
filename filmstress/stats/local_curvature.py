"""Curvature along a trace, with a band: where the trace bends more and where less."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.stats.lack_of_fit import BENDS, RicherFit
from filmstress.stats.quadratic_fit import QuadraticFit

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LocalCurvature:
    """Curvature at some places.

    Attributes
    ----------
    x : ndarray, shape (m,)
        Places [x].
    curvature, u : ndarray, shape (m,)
        Second derivative there [y / x^2] and its standard uncertainty.
    dof : float
        Of ``u``.
    """

    x: Floats
    curvature: Floats
    u: Floats
    dof: float


def local_curvature(fit: QuadraticFit, x: ArrayLike, richer: RicherFit | None) -> LocalCurvature:
    """Second derivative along a trace from Legendre orders 2 to 6.

    Parameters
    ----------
    fit : QuadraticFit
        Of the trace; its block means are used.
    x : array_like, shape (m,)
        Places inside the trace [x].
    richer : RicherFit or None
        From ``richer_fit`` of the same fit, up to the choice of its parabola.

    Notes
    -----
    Order six resolves bends over about a fifth of the trace.  Finer ones are noise to it, as they
    are to the parabola: each further order would multiply the variance of the curvature several
    times (the second derivative of order j grows as j^4 at the ends), and double it in the middle.
    The noise is that which orders 0 to 6 leave, averaged over the family as for the parabola.
    """
    at = np.asarray(x, dtype=np.float64)
    blocks = fit.blocks
    t = (at - blocks.centre) / blocks.half_length
    second = 3.0 * np.ones_like(t)
    if richer is None:
        return LocalCurvature(
            at, np.full_like(t, fit.curvature), np.full_like(t, fit.u), float(fit.dof)
        )
    p = fit.regressors.shape[0]
    bends = np.zeros((p + len(BENDS), t.size))
    bends[2] = second
    bends[p:] = [np.polyval(bend, t) for bend in BENDS]
    bends /= blocks.half_length**2
    weight = richer.mean.weight[:, 0]
    covariance = richer.scale**2 * np.tensordot(
        weight * richer.fits.scale[:, 0], richer.fits.inverse_normal, axes=1
    )
    departure = richer.scale * richer.mean.coefficients[:, 0] @ bends
    variance = np.einsum("im,ij,jm->m", bends, covariance, bends)
    return LocalCurvature(
        at, fit.curvature + departure, np.sqrt(variance), float(richer.mean.dof[0])
    )
