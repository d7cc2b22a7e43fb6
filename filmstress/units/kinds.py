"""What an input is: its name, its dimension and the sizes it can plausibly have."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.units.dimensions import DIMENSIONS, Dimension


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of input.

    Attributes
    ----------
    name : str
        How messages call it: "film thickness".
    dimension : str
        One of ``Dimension``.  "number" is meant as it stands (0.28); "relative" is a share of
        something, usually written in %.
    low, high : float
        Plausible range [SI], both ends included; infinite where there is no such end.
    example : str
        A text that reads well, shown in hints.
    """

    name: str
    dimension: Dimension
    low: float
    high: float
    example: str

    def __post_init__(self) -> None:
        if self.dimension not in DIMENSIONS:
            raise ValueError(f"{self.name}: no dimension '{self.dimension}'")
        if not self.low < self.high:
            raise ValueError(f"{self.name}: the range runs from {self.low} to {self.high}")

    @property
    def si(self) -> str:
        """SI unit word of its values; "1" for a pure number."""
        return DIMENSIONS[self.dimension].si
