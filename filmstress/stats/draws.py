"""Standard variates of input quantities, drawn so that a seed alone fixes every number.

Each input has a stream of random numbers of its own, named by what the input is and by what
shares it.  So a draw depends neither on how many are drawn at a time nor on which other inputs
there are, and two measurements that share an input draw the same numbers for it.

References
----------
JCGM 101:2008, 6.4 (distributions).  J. K. Salmon et al., Parallel random numbers: as easy as 1, 2,
3, SC'11 (2011), doi:10.1145/2063384.2063405 (the generator Philox).
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import UsageError
from filmstress.records.quantity import Shape

Floats = NDArray[np.float64]

# Student's t below this many degrees of freedom has no 95 % interval worth the name.
LEAST_DOF = 1.0


@dataclass(frozen=True, slots=True)
class Variate:
    """An input quantity, reduced: (X - estimate) / u.

    Attributes
    ----------
    input : str
        Its name.
    common_to : str
        What shares it; equal ``input`` and ``common_to`` draw equal numbers.
    shape : Shape
        Its distribution.
    dof : float
        Of a normal input's ``u``; finite: Student's t, scaled by ``u`` (JCGM 101:2008, 6.4.9).  At
        least 1 is taken.  Limits are taken as known, whatever is said of them.
    """

    input: str
    common_to: str = ""
    shape: Shape = Shape.NORMAL
    dof: float = math.inf

    @property
    def variance(self) -> float:
        """Of the reduced quantity; infinite where it has none."""
        if self.shape is Shape.EXACT:
            return 0.0
        if self.shape is not Shape.NORMAL or math.isinf(self.dof):
            return 1.0
        return self.dof / (self.dof - 2.0) if self.dof > 2.0 else math.inf

    @property
    def excess(self) -> float:
        """Excess of its kurtosis; infinite where it has no fourth moment."""
        if self.shape is Shape.RECTANGULAR:
            return -1.2
        if self.shape is Shape.TRIANGULAR:
            return -0.6
        if self.shape is Shape.EXACT or math.isinf(self.dof):
            return 0.0
        return 6.0 / (self.dof - 4.0) if self.dof > 4.0 else math.inf


class Draws:
    """Endless draws of several variates, block after block.

    Parameters
    ----------
    variates : sequence of Variate
        Each once.
    seed : int
        At least 0.

    Raises
    ------
    UsageError
        If a variate stands twice or the seed is negative.
    """

    def __init__(self, variates: Sequence[Variate], seed: int) -> None:
        if seed < 0:
            raise UsageError(
                f"a seed of {seed} came, a whole number of at least 0 is wanted", where="seed"
            )
        names = [(one.input, one.common_to) for one in variates]
        if len(set(names)) < len(names):
            twice = next(name for name in names if names.count(name) > 1)
            raise UsageError(
                "it stands twice among the inputs",
                where=twice[0],
                hint="what is one quantity is drawn once; name two quantities apart",
            )
        self._variates = tuple(variates)
        self._streams = [_stream(one, seed) for one in variates]

    def next(self, count: int) -> Floats:
        """The next draws, shape (variates, count)."""
        drawn = np.empty((len(self._variates), count))
        for row, variate, stream in zip(drawn, self._variates, self._streams, strict=True):
            _fill(row, variate, stream)
        return drawn


def _stream(variate: Variate, seed: int) -> np.random.Generator:
    name = f"{seed}\n{variate.input}\n{variate.common_to}".encode()
    key = int.from_bytes(hashlib.blake2b(name, digest_size=16).digest(), "little")
    return np.random.Generator(np.random.Philox(key=key))


def _fill(row: Floats, variate: Variate, stream: np.random.Generator) -> None:
    """One row of draws; every rule takes its random numbers draw by draw, in order."""
    if variate.shape is Shape.EXACT:
        row[:] = 0.0
    elif variate.shape is Shape.RECTANGULAR:
        stream.random(out=row)
        row -= 0.5
        row *= math.sqrt(12.0)
    elif variate.shape is Shape.TRIANGULAR:
        # The inverse of its distribution function, by the distance from the nearer end.
        t = 2.0 * stream.random(row.size) - 1.0
        row[:] = math.sqrt(6.0) * np.copysign(1.0 - np.sqrt(1.0 - np.abs(t)), t)
    elif math.isinf(variate.dof):
        stream.standard_normal(out=row)
    else:
        row[:] = stream.standard_t(max(variate.dof, LEAST_DOF), row.size)


def correlated(drawn: ArrayLike, correlation: ArrayLike) -> Floats:
    """Standard normal draws with a correlation, from independent ones.

    Parameters
    ----------
    drawn : array_like, shape (n, count)
    correlation : array_like, shape (n, n)
        Positive semi-definite: a difference of equals may be among them.

    Raises
    ------
    UsageError
        If no quantities can have these coefficients.

    References
    ----------
    JCGM 101:2008, 6.4.8 and C.5.
    """
    values, vectors = np.linalg.eigh(np.asarray(correlation, dtype=np.float64))
    if values[0] < -1e-9 * len(values):
        raise UsageError(
            "the correlation coefficients contradict each other: no quantities can have them all",
            hint="take them from one covariance matrix, unrounded",
        )
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    return np.asarray(root @ np.asarray(drawn, dtype=np.float64))
