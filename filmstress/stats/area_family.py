"""The family of noises over an area that a surface fit is averaged over.

Of the means over squares, V = q W + (1 - q) C, with W the white part (inverse to the points in a
square) and C that of isotropic noise averaged over the squares and scaled to unit variance of a
mean: rough, exp(-d / l), as along a line (`filmstress.stats.noise_family`), or smooth,
exp(-d^2 / 2 l^2), which an area can tell from rough where a line cannot.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.area_means import AreaMeans

Floats = NDArray[np.float64]

# Correlation lengths as parts of the area's width, and white shares.
_ROUGH = 0.02 * np.exp(0.6 * np.arange(10))
_SMOOTH = 0.04 * np.exp(0.15 * np.arange(22))
# Smooth noise is rarer than rough; its lengths stand closer, since they show more clearly.
_SMOOTH_PRIOR = np.log(0.1 * 0.15 / 0.6)
_LENGTHS = np.concatenate([_ROUGH, _SMOOTH])
_WHITE_SHARES = np.concatenate([[0.0], 1.0 / (1.0 + np.exp(-np.arange(-6.5, 7.0))), [1.0]])
# Places within a square that its mean is worked out from, along one side.
_PLACES = 5
# Smooth noise alone would be known exactly from a few places; some roughness is always there.
_FLOOR = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class AreaFamily:
    """The members, ready to whiten.

    Attributes
    ----------
    length : ndarray, shape (members,)
        Correlation length over the area's width [1].
    white_share : ndarray, shape (members,)
        q [1].
    log_prior : ndarray, shape (members,)
        Beside what the correlation length says of itself.
    log_det : ndarray, shape (members,)
        ln |V|.
    white : ndarray, shape (m,)
        Relative variance of the white part of each mean.
    vectors : ndarray, shape (lengths, m, m)
        Eigenvectors of W^-1/2 C W^-1/2, in columns, for each length.
    root : ndarray, shape (m, members)
        One over the standard deviation along each of them.
    """

    length: Floats
    white_share: Floats
    log_prior: Floats
    log_det: Floats
    white: Floats
    vectors: Floats
    root: Floats

    def whiten(self, columns: Floats) -> Floats:
        """Turn V into the unit matrix: (m, c) means or regressors to (m, c, members)."""
        scaled = columns / np.sqrt(self.white)[:, None]
        turned = np.swapaxes(self.vectors, 1, 2) @ scaled
        each = np.repeat(turned, _WHITE_SHARES.size, axis=0)
        whitened: Floats = np.moveaxis(each, 0, 2) * self.root[:, None, :]
        return whitened

    def covariance(self, rows: Floats) -> Floats:
        """Covariance of linear combinations of the means: (r, m) rows to (members, r, r)."""
        turned = (rows * np.sqrt(self.white)) @ self.vectors
        each = np.repeat(turned, _WHITE_SHARES.size, axis=0) / self.root.T[:, None, :]
        covariance: Floats = each @ np.swapaxes(each, 1, 2)
        return covariance


def area_family(means: AreaMeans) -> AreaFamily:
    """Members of the family for these means."""
    return _family(
        means.squares,
        means.column.astype(np.intp).tobytes(),
        means.row.astype(np.intp).tobytes(),
        (means.count / means.count.max()).tobytes(),
    )


@lru_cache(maxsize=4)
def _family(squares: int, column: bytes, row: bytes, count: bytes) -> AreaFamily:
    """Kept, for maps of one wafer fill the same squares."""
    columns, rows = np.frombuffer(column, np.intp), np.frombuffer(row, np.intp)
    share = np.frombuffer(count, np.float64)
    white = share.mean() / share
    across = np.abs(columns[:, None] - columns)
    along = np.abs(rows[:, None] - rows)
    root_white = np.sqrt(white)
    vectors, roots, log_det = [], [], []
    for number, length in enumerate(_LENGTHS.tolist()):
        table = _by_displacement(squares, length, smooth=number >= _ROUGH.size)
        correlated = table[across, along] / np.multiply.outer(root_white, root_white)
        values, turned = np.linalg.eigh(correlated)
        vectors.append(turned)
        variance = _WHITE_SHARES + np.multiply.outer(
            np.maximum(values, _FLOOR * values[-1]), 1.0 - _WHITE_SHARES
        )
        roots.append(1.0 / np.sqrt(variance))
        log_det.append(np.log(variance).sum(axis=0) + np.log(white).sum())
    return AreaFamily(
        length=np.repeat(_LENGTHS, _WHITE_SHARES.size),
        white_share=np.tile(_WHITE_SHARES, _LENGTHS.size),
        log_prior=np.where(
            np.arange(_LENGTHS.size * _WHITE_SHARES.size) < _ROUGH.size * _WHITE_SHARES.size,
            0.0,
            _SMOOTH_PRIOR,
        ),
        log_det=np.concatenate(log_det),
        white=white,
        vectors=np.stack(vectors),
        root=np.concatenate(roots, axis=1),
    )


def _by_displacement(squares: int, length: float, *, smooth: bool) -> Floats:
    """Covariance of the means of two squares by how far apart they lie, in columns and rows."""
    within = (np.arange(_PLACES) + 0.5) / _PLACES
    apart = (within[:, None] - within).ravel()
    steps = (np.arange(squares)[:, None] + apart) / squares
    distance = np.hypot(steps[:, None, :, None], steps[None, :, None, :]) / length
    table: Floats = np.exp(-0.5 * distance**2 if smooth else -distance).mean(axis=(2, 3))
    return np.asarray(table / table[0, 0])
