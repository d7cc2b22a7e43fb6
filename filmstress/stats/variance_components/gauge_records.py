"""What a study of a gauge finds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from filmstress.errors import UsageError
from filmstress.stats.variance_components.records import Component, MeanSquare, Method

PART, OPERATOR, INTERACTION, REPEAT = "part", "operator", "part by operator", "repeat"


@dataclass(frozen=True, slots=True)
class Bounded:
    """A figure with its coverage interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """Repeatability and reproducibility of a gauge.

    Attributes
    ----------
    repeatability : Component
        One operator measuring one part again (EV).
    reproducibility : Component or None
        Between operators (AV), None where there was one only.
    interaction : Component or None
        Operators differing from part to part; None where it was pooled or not studied.
    gauge, total : Component
        All of these (GRR); all together with the parts (TV).
    part : Component or None
        Between parts (PV); None where there was one only.
    of_total : Bounded or None
        Gauge over total standard deviation [%], "%GRR"; None for one part.
    categories : int or None
        Number of parts' groups that the gauge can tell apart: sqrt(2) PV/GRR cut to a whole number
        (with the customary 1.41), at least 1; None for one part.
    interaction_p : float or None
        p-value of the interaction, before pooling.
    pooled : bool
        The interaction was too small to be seen and was counted as repeatability.
    inseparable : bool
        Operators may differ from part to part, but nobody measured a part twice: that is in the
        repeatability, and cannot be told from it.
    table : tuple of MeanSquare
        The analysis of variance; empty for REML.
    method : Method
        Analysis of variance for balanced data, REML otherwise.
    p : float
        Coverage probability of the intervals.
    """

    repeatability: Component
    reproducibility: Component | None
    interaction: Component | None
    gauge: Component
    part: Component | None
    total: Component
    of_total: Bounded | None
    categories: int | None
    interaction_p: float | None
    pooled: bool
    inseparable: bool
    table: tuple[MeanSquare, ...]
    method: Method
    p: float

    def of_tolerance(self, width: float) -> Bounded:
        """Six gauge standard deviations over the width of the tolerance [%].

        Raises
        ------
        UsageError
            If ``width`` is not above 0.
        """
        if not (math.isfinite(width) and width > 0.0):
            raise UsageError(
                f"a tolerance of {width!r} came, a width above 0 is wanted",
                hint="upper limit less lower limit",
            )
        variances = (self.gauge.variance, self.gauge.low, self.gauge.high)
        value, low, high = (600.0 * math.sqrt(one) / width for one in variances)
        return Bounded(value, low, high)


def found_study(
    parted: dict[str, Component],
    gauge: Component,
    total: Component,
    share_bounds: tuple[float, float] | None,
    *,
    method: Method,
    p: float,
    table: tuple[MeanSquare, ...] = (),
    interaction_p: float | None = None,
    pooled: bool = False,
    inseparable: bool = False,
) -> GaugeStudy:
    """The study that some components make; without a part among them, no share of a total."""
    part = parted.get(PART)
    share = 100.0 * math.sqrt(gauge.variance / total.variance)
    return GaugeStudy(
        repeatability=parted[REPEAT],
        reproducibility=parted.get(OPERATOR),
        interaction=parted.get(INTERACTION),
        gauge=gauge,
        part=part,
        total=total,
        of_total=None if share_bounds is None else Bounded(share, *share_bounds),
        categories=None if part is None else max(1, int(1.41 * part.sd / gauge.sd)),
        interaction_p=interaction_p,
        pooled=pooled,
        inseparable=inseparable,
        table=table,
        method=method,
        p=p,
    )
