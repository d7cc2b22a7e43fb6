"""The family of noises over an area that a surface fit is averaged over.

Of the means over squares, V = q W + (1 - q) C, with W the white part (inverse to the points in a
square) and C that of isotropic noise averaged over the squares and scaled to unit variance of a
mean.  Over an area, how smooth such noise is shows, and decides how much of it passes for a
surface: rough, exp(-d / l), as along a line (`filmstress.stats.noise_family`); smooth,
exp(-pi d^2 / 4 l^2); and between them exp(-2 d / l) (1 + 2 d / l), Matern's covariance of order 3/2
(Handcock & Stein, Technometrics 35 (1993) 403, doi 10.1080/00401706.1993.10485354).  In all three l
is the integral of the correlation over distance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.area_means import AreaMeans

Floats = NDArray[np.float64]

# Correlation lengths as parts of the area's width, evenly spaced in ln l.
_LENGTHS = 0.02 * np.exp(0.35 * np.arange(16))
# Smooth noise that is longer than the area is part of the surface.
_LONGEST_SMOOTH = 0.8
# Smooth noise shows beneath very little white noise, so its share may be small.
_WHITE_SHARES = np.concatenate([[0.0], 1.0 / (1.0 + np.exp(-np.arange(-16.0, 7.0, 0.75))), [1.0]])
# Smooth noise alone would be known exactly from a few places.
_FLOOR = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class AreaFamily:
    """The members, ready to whiten.

    Attributes
    ----------
    length : ndarray, shape (members,)
        Correlation length over the area's width [1].
    white_share : ndarray, shape (members,)
        q [1].
    log_det : ndarray, shape (members,)
        ln |V|.
    white : ndarray, shape (m,)
        Relative variance of the white part of each mean.
    vectors : ndarray, shape (noises, m, m)
        Eigenvectors of W^-1/2 C W^-1/2, in columns, for each kind and length.
    root : ndarray, shape (m, members)
        One over the standard deviation along each of them.
    """

    length: Floats
    white_share: Floats
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
    return _family(_places(means).tobytes(), (means.count / means.count.max()).tobytes())


def _places(means: AreaMeans) -> Floats:
    """Four places for each square, shape (m, 4, 2), with the moments of its points to the second.

    Squares at the rim are filled in part, and their middles are not where their points are.
    """
    _, s, t, ss, st, tt = means.moments
    along = np.sqrt(np.maximum(ss - s * s, 0.0))
    shear = (st - s * t) / np.where(along > 0.0, along, 1.0)
    across = np.sqrt(np.maximum(tt - t * t - shear * shear, 0.0))
    corners = [
        np.stack([s + i * along, t + i * shear + j * across], axis=1)
        for i in (-1.0, 1.0)
        for j in (-1.0, 1.0)
    ]
    return np.stack(corners, axis=1)


@lru_cache(maxsize=4)
def _family(places: bytes, count: bytes) -> AreaFamily:
    """Kept, for maps of one kind fill the same squares."""
    share = np.frombuffer(count, np.float64)
    white = share.mean() / share
    at = np.frombuffer(places, np.float64).reshape(-1, 2)
    # Places run from -1 to 1, lengths are parts of the width.
    distance = 0.5 * np.hypot(*(part[:, None] - part for part in at.T))
    scale = np.sqrt(np.multiply.outer(white, white))
    smooth_lengths = _LENGTHS[_LENGTHS < _LONGEST_SMOOTH]
    noises = [
        (covariance, length)
        for covariance, lengths in (
            (_rough, _LENGTHS),
            (_between, _LENGTHS),
            (_smooth, smooth_lengths),
        )
        for length in lengths.tolist()
    ]
    vectors, roots, log_det = [], [], []
    for covariance, length in noises:
        values, turned = np.linalg.eigh(_of_squares(covariance(distance / length)) / scale)
        vectors.append(turned)
        variance = _WHITE_SHARES + np.multiply.outer(
            np.maximum(values, _FLOOR * values[-1]), 1.0 - _WHITE_SHARES
        )
        roots.append(1.0 / np.sqrt(variance))
        log_det.append(np.log(variance).sum(axis=0) + np.log(white).sum())
    return AreaFamily(
        length=np.repeat([length for _, length in noises], _WHITE_SHARES.size),
        white_share=np.tile(_WHITE_SHARES, len(noises)),
        log_det=np.concatenate(log_det),
        white=white,
        vectors=np.stack(vectors),
        root=np.concatenate(roots, axis=1),
    )


def _rough(distance: Floats) -> Floats:
    return np.asarray(np.exp(-distance))


def _between(distance: Floats) -> Floats:
    return np.asarray(np.exp(-2.0 * distance) * (1.0 + 2.0 * distance))


def _smooth(distance: Floats) -> Floats:
    return np.asarray(np.exp((-0.25 * np.pi) * distance**2))


def _of_squares(covariance: Floats) -> Floats:
    """Covariance of the means of squares from that of their places, of unit variance on average."""
    squares = len(covariance) // 4
    table = covariance.reshape(squares, 4, squares, 4).mean(axis=(1, 3))
    return np.asarray(table / np.diag(table).mean())
