"""Restricted likelihood of variance ratios, by matrices as large as there are groups."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Labels = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """What the likelihood needs of the observations y = X b + Z u + residual.

    V = I + Z D Z' is inverted as I - Z D^1/2 M^-1 D^1/2 Z' with M = I + D^1/2 Z'Z D^1/2.

    Attributes
    ----------
    dof : int
        Observations less fixed effects.
    owner : ndarray, shape (g,)
        Grouping of each group.
    inner : ndarray, shape (g, g)
        Z'Z.
    on_groups, within : ndarray, shape (g, q + 1), (q + 1, q + 1)
        Z'C and C'C, where C is the design with the observations as its last column.
    """

    dof: int
    owner: Labels
    inner: Floats
    on_groups: Floats
    within: Floats

    @classmethod
    def of(cls, y: Floats, design: Floats, groupings: Sequence[Labels]) -> Profile:
        """For these observations, which had better be free of the fixed effects."""
        dummies = [code[:, None] == np.arange(code.max() + 1) for code in groupings]
        z = np.column_stack(dummies).astype(np.float64)
        c = np.column_stack([design, y])
        owner = np.repeat(np.arange(len(dummies)), [one.shape[1] for one in dummies])
        return cls(len(y) - design.shape[1], owner, z.T @ z, z.T @ c, c.T @ c)

    def at(self, ratios: Floats) -> tuple[float, Floats]:
        """The likelihood, the residual variance profiled out, and its slopes in the ratios.

        Parameters
        ----------
        ratios : ndarray, shape (k,)
            Variance of each grouping over that of the residuals.
        """
        from scipy.linalg import solve_triangular

        root = np.sqrt(ratios)[self.owner][:, None]
        lower = np.linalg.cholesky(np.eye(len(root)) + root * self.inner * root.T)
        on_c = solve_triangular(lower, root * self.on_groups, lower=True)
        on_z = solve_triangular(lower, root * self.inner, lower=True)
        products = self.within - on_c.T @ on_c
        groups = self.on_groups - on_z.T @ on_c
        normal = products[:-1, :-1]
        inverse = np.linalg.inv(normal)
        effects = inverse @ products[:-1, -1]
        residual = float(products[-1, -1] - products[:-1, -1] @ effects) / self.dof
        value = -0.5 * self.dof * math.log(residual) - float(np.log(np.diag(lower)).sum())
        value -= 0.5 * float(np.linalg.slogdet(normal)[1])
        pulled = groups[:, -1] - groups[:, :-1] @ effects
        traces = np.diag(self.inner) - (on_z**2).sum(axis=0)
        traces = traces - ((groups[:, :-1] @ inverse) * groups[:, :-1]).sum(axis=1)
        slopes = np.bincount(self.owner, 0.5 * pulled**2 / residual - 0.5 * traces)
        return value, np.asarray(slopes, dtype=np.float64)
