"""Generalised least squares of block means at every member of a noise family, with likelihoods."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.family import Family

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FamilyFits:
    """The fit at each of K members, p regressors, S traces.

    Attributes
    ----------
    coefficients : ndarray, shape (K, p, S)
        Generalised least-squares coefficients.
    inverse_normal : ndarray, shape (K, p, p)
        (X' V^-1 X)^-1: covariance of the coefficients per unit of ``scale``.
    scale : ndarray, shape (K, S)
        Residual variance s^2 = r' V^-1 r / dof.
    explained : ndarray, shape (K, p, S)
        What each regressor, after those before it, takes off y' V^-1 y.
    log_likelihood : ndarray, shape (K, S)
        Restricted log-likelihood, scale maximised out, up to a constant.
    dof : int
        Blocks minus regressors.
    """

    coefficients: Floats
    inverse_normal: Floats
    scale: Floats
    explained: Floats
    log_likelihood: Floats
    dof: int


def fit_family(family: Family, regressors: Floats, traces: Floats) -> FamilyFits:
    """Fit ``traces`` by ``regressors`` at every member of the family.

    Parameters
    ----------
    family : Family
        Of m block means.
    regressors : ndarray, shape (p, m)
        Well conditioned rows.
    traces : ndarray, shape (m, S)
        Block means of S traces.

    Notes
    -----
    Restricted likelihood: Patterson & Thompson, Biometrika 58 (1971) 545,
    doi 10.1093/biomet/58.3.545: -1/2 (ln|V| + ln|X' V^-1 X| + (m - p) ln r' V^-1 r).
    """
    p, m = regressors.shape
    dof = m - p
    whitened = family.whiten(np.concatenate([regressors.T, traces], axis=1))
    x, y = whitened[:, :p], whitened[:, p:]
    lower = _cholesky(np.einsum("mik,mjk->ijk", x, x))
    cross = np.einsum("mik,msk->isk", x, y)
    square = np.einsum("msk,msk->sk", y, y)
    # Forward substitution: z[i]^2 is what regressor i, after those before it, takes off y' V^-1 y.
    z = np.empty_like(cross)
    for i in range(p):
        z[i] = cross[i]
        for j in range(i):
            z[i] -= lower[i][j] * z[j]
        z[i] /= lower[i][i]
        square -= z[i] * z[i]
    root = np.moveaxis(np.array(_invert(lower)), -1, 0)
    log_normal = 2.0 * sum(np.log(lower[i][i]) for i in range(p))
    # Rounding may leave the residual of a perfect fit just below zero.
    rss = np.maximum(square.T, np.finfo(np.float64).tiny)
    return FamilyFits(
        coefficients=np.swapaxes(root, 1, 2) @ np.transpose(z, (2, 0, 1)),
        inverse_normal=np.swapaxes(root, 1, 2) @ root,
        scale=rss / dof,
        explained=np.transpose(z * z, (2, 0, 1)),
        log_likelihood=-0.5 * ((family.log_det + log_normal)[:, None] + dof * np.log(rss)),
        dof=dof,
    )


def _cholesky(normal: Floats) -> list[list[Floats]]:
    """Lower factors of many small matrices at once: entry [i][j] holds that of every member."""
    p = len(normal)
    lower: list[list[Floats]] = []
    for i in range(p):
        row: list[Floats] = []
        for j in range(i + 1):
            entry = normal[i, j].copy()
            for k in range(j):
                entry -= row[k] * (row[k] if i == j else lower[j][k])
            row.append(np.sqrt(entry) if i == j else entry / lower[j][j])
        lower.append(row)
    return lower


def _invert(lower: list[list[Floats]]) -> list[list[Floats]]:
    """Inverses of the lower factors, zeros above the diagonal filled in."""
    p = len(lower)
    zero = np.zeros_like(lower[0][0])
    inverse = [[zero] * p for _ in range(p)]
    for i in range(p):
        inverse[i][i] = 1.0 / lower[i][i]
        for j in range(i):
            entry = -lower[i][j] * inverse[j][j]
            for k in range(j + 1, i):
                entry = entry - lower[i][k] * inverse[k][j]
            inverse[i][j] = entry * inverse[i][i]
    return inverse
