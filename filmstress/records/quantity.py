"""Quantities: what goes in (Measured) and what comes out (Estimate).  SI floats only."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum


class Shape(StrEnum):
    """Distribution assigned to an input (JCGM 100:2008, 4.3)."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    EXACT = "exact"


class Source(StrEnum):
    """Where an input's uncertainty came from."""

    STATED = "stated"
    DEFAULT = "default"
    TABLE = "table"
    DATA = "data"


@dataclass(frozen=True, slots=True)
class Measured:
    """An input quantity.

    Attributes
    ----------
    value : float
        Value [unit].
    unit : str
        SI unit symbol: "m", "Pa", "N/m", "1/m", "rad", "kg/m^3", "K", "1/K", "s", "1".
    u : float or None
        Standard uncertainty [unit]; None where none was stated.
    dof : float
        Degrees of freedom of ``u``; infinite where not stated.
    shape : Shape
        Distribution.  For RECTANGULAR, ``u`` is the half-width over sqrt(3), for TRIANGULAR over
        sqrt(6).
    read_as : str
        How the text was read, for the echo: "± 2 um (standard uncertainty)".
    source : Source
        Who stated the uncertainty.
    """

    value: float
    unit: str
    u: float | None = None
    dof: float = math.inf
    shape: Shape = Shape.NORMAL
    read_as: str = ""
    source: Source = Source.STATED

    def with_default(self, *, u: float, shape: Shape, read_as: str) -> Measured:
        """The quantity with a default uncertainty where none was stated."""
        if self.u is not None:
            return self
        return replace(self, u=u, shape=shape, read_as=read_as, source=Source.DEFAULT)


@dataclass(frozen=True, slots=True)
class Estimate:
    """An output quantity with its coverage interval (JCGM 100:2008, 7.2).

    Attributes
    ----------
    value : float
        Best estimate [unit].
    unit : str
        SI unit symbol.
    u : float or None
        Combined standard uncertainty [unit]; None where it is not known.
    dof : float
        Effective degrees of freedom, a whole number or infinite: the ones ``k`` was taken for.
    k : float or None
        Coverage factor.
    p : float
        Coverage probability.
    low, high : float or None
        Ends of the coverage interval [unit]; None is unbounded or unknown.
    """

    value: float
    unit: str
    u: float | None
    dof: float
    k: float | None
    p: float
    low: float | None
    high: float | None

    @property
    def expanded(self) -> float | None:
        """Expanded uncertainty U = k u [unit]."""
        return None if self.u is None or self.k is None else self.k * self.u

    @property
    def holds_zero(self) -> bool:
        """Whether zero lies within the coverage interval (an unbounded end holds everything)."""
        return (self.low is None or self.low <= 0.0) and (self.high is None or self.high >= 0.0)
