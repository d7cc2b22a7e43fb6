"""Uncertainty budgets: what each input contributes to the uncertainty of one output."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from filmstress.records.quantity import Shape, Source

Evaluation = Literal["A", "B"]
"""Type A: from the scatter of repeated observations; type B: by any other means (JCGM 100, 2.3)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """What one input contributes to an output, before it is combined with the others.

    Attributes
    ----------
    input : str
        Name of the input, as the reader sees it: "substrate thickness".
    value : float
        Best estimate of the input [unit].
    unit : str
        SI unit symbol of the input.
    u : float
        Standard uncertainty of the input [unit].
    sensitivity : float
        Partial derivative of the output with respect to the input [unit of output / unit], signed.
    dof : float
        Degrees of freedom of ``u``; infinite where ``u`` is taken as known.
    shape : Shape
        Distribution assigned to the input.
    evaluation : "A" or "B"
        How ``u`` was evaluated.
    common_to : str
        The thing that shares this very input: "wafer 01", "lot", "gauge", "table Si"; empty: this
        measurement alone.  Terms of equal ``input`` and ``common_to`` are one quantity.
    source : Source
        Who stated ``u``.
    parts : tuple of (str, float)
        Where the row stands for several independent inputs (the constants of one modulus): the
        name of each, and its signed contribution [unit of output]; ``contribution`` is their root
        sum of squares.
    """

    input: str
    value: float
    unit: str
    u: float
    sensitivity: float
    dof: float = math.inf
    shape: Shape = Shape.NORMAL
    evaluation: Evaluation = "B"
    common_to: str = ""
    source: Source = Source.STATED
    parts: tuple[tuple[str, float], ...] = ()

    @property
    def contribution(self) -> float:
        """Standard uncertainty of the output due to this input alone, |sensitivity| u."""
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """A term and its share of the output's variance.

    Shares add to 1, or are all 0 where the output's uncertainty is 0.  Among correlated inputs a
    share may be negative: the input then takes away from what the others bring.
    """

    term: Term
    share: float


@dataclass(frozen=True, slots=True)
class Budget:
    """A complete budget.

    Attributes
    ----------
    rows : tuple of BudgetRow
        Largest share first.
    u : float
        Combined standard uncertainty of the output.
    dof : float
        Effective degrees of freedom of ``u``, not yet truncated; infinite if every input's are.
    """

    rows: tuple[BudgetRow, ...]
    u: float
    dof: float
