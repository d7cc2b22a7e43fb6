"""How the charts for small lasting shifts are set, and what that makes of their run lengths."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.errors import UsageError
from filmstress.stats.control.run_length import RunLength, cusum_run_length, ewma_run_length

SHIFT = 1.0
"""Lasting shift of the mean [sigma of a lot] that the second run length is told for."""


@dataclass(frozen=True, slots=True)
class Tuning:
    """Settings of the moving average and of the cumulative sums.

    Attributes
    ----------
    weight : float
        Of the newest lot in the moving average, 0.01 to 1.
    limit : float
        Half-width of its limits [standard deviations of the average], 0.5 to 6.
    reference : float
        What a lot must depart from the centre for a sum to grow, half the shift that is to be
        found soon [sigma], 0 to 5.
    decision : float
        A sum beyond this signals [sigma], 0.1 to 40.

    Raises
    ------
    UsageError
        A setting is out of its range, in which the run lengths are good to four digits.
    """

    weight: float = 0.2
    limit: float = 2.86
    reference: float = 0.5
    decision: float = 4.77

    def __post_init__(self) -> None:
        for name, low, high in (
            ("weight", 0.01, 1.0),
            ("limit", 0.5, 6.0),
            ("reference", 0.0, 5.0),
            ("decision", 0.1, 40.0),
        ):
            value = getattr(self, name)
            if not low <= value <= high:
                chart = "cusum" if name in ("reference", "decision") else "ewma"
                raise UsageError(
                    f"{value:g} came, a number from {low:g} to {high:g} is wanted",
                    where=f"--{chart}-{name}",
                    hint="weight 0.2 with limit 2.86, or reference 0.5 with decision 4.77, suit "
                    "most processes",
                )

    def ewma_run_length(self, *, shift: float = 0.0) -> RunLength:
        """Average run length of the moving average under a shift [sigma]."""
        return ewma_run_length(weight=self.weight, width=self.limit, shift=shift)

    def cusum_run_length(self, *, shift: float = 0.0) -> RunLength:
        """Average run length of the cumulative sums under a shift [sigma]."""
        return cusum_run_length(allowance=self.reference, threshold=self.decision, shift=shift)
