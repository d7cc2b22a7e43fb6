"""The control charts of a recipe, and what they show."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from filmstress.charting.events import Event, of_chart, of_rules, of_sums
from filmstress.charting.lots import LotPoint, Series
from filmstress.charting.process import Performance, performance
from filmstress.charting.tuning import SHIFT, Tuning
from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.control.chart import Baseline, Chart, Reference
from filmstress.stats.control.individuals import individuals_charts, moving_range_reference
from filmstress.stats.control.rules import Rule, rules_by_name
from filmstress.stats.control.run_length import RunLength, rules_run_length
from filmstress.stats.control.small_shifts import CusumChart, cusum_chart, ewma_chart
from filmstress.stats.control.subgroups import Spread, subgroup_charts, subgroup_reference
from filmstress.stats.control.three_way import ThreeWay, three_way_charts

LEAST = 5
"""Lots that limits are made from at least: with fewer they would say nothing (our choice)."""


class ChartKind(StrEnum):
    """How the lots are charted."""

    INDIVIDUALS = "individuals"
    THREE_WAY = "three-way"
    XBAR_R = "xbar-r"
    XBAR_S = "xbar-s"
    EWMA = "ewma"
    CUSUM = "cusum"


OF_SEVERAL = frozenset({ChartKind.THREE_WAY, ChartKind.XBAR_R, ChartKind.XBAR_S})
"""Kinds that want at least two wafers a lot."""
_SMALL_SHIFTS = frozenset({ChartKind.EWMA, ChartKind.CUSUM})
_RUN_RULES = frozenset({ChartKind.INDIVIDUALS, *OF_SEVERAL})


@dataclass(frozen=True, slots=True, eq=False)
class RecipeChart:
    """A recipe's charts.

    Attributes
    ----------
    series : Series
        The lots that are charted.
    single : int
        Lots left out because they hold one wafer.
    kind : ChartKind
    charts : tuple of Chart
        That of the lots' means first; empty for CUSUM.
    sums : CusumChart or None
    reference : Reference
        What the limits of the first chart are made from.
    baseline : (int, int)
        Lots behind the limits: the first, and the one after the last.
    rules : tuple of Rule
        In use on the first chart.
    run_length : RunLength
        Of the first chart in control: how often it raises a false alarm.
    tuning : Tuning
        Of EWMA and CUSUM.
    shifted : RunLength or None
        Of these two under a lasting shift of one sigma: how soon it is seen.
    events : tuple of Event
        What happened, in order of time.
    three_way : ThreeWay or None
        Scatter between and within lots, where lots hold several wafers.
    performance : Performance or None
        Capability, where the lots have limits.
    """

    series: Series
    single: int
    kind: ChartKind
    charts: tuple[Chart, ...]
    sums: CusumChart | None
    reference: Reference
    baseline: Baseline
    rules: tuple[Rule, ...]
    run_length: RunLength
    tuning: Tuning
    shifted: RunLength | None
    events: tuple[Event, ...]
    three_way: ThreeWay | None
    performance: Performance | None

    @property
    def points(self) -> tuple[LotPoint, ...]:
        """The lots."""
        return self.series.points


def chart_recipe(
    series: Series,
    *,
    kind: ChartKind | None = None,
    baseline: str = "",
    rules: Sequence[str] = (),
    tuning: Tuning | None = None,
) -> RecipeChart | Series:
    """Chart the lots of a recipe.

    Parameters
    ----------
    series : Series
        In order of time.
    kind : ChartKind, optional
        By default three-way where every lot holds several wafers, individuals otherwise.
    baseline : str
        Lots that the limits are made from: "25" for the first so many, "2026-01-01..2026-03-31"
        for a time; empty: all.
    rules : sequence of str
        Names that `filmstress.stats.control.rules.rules_by_name` knows; none: only a point beyond a
        limit signals.
    tuning : Tuning, optional
        Of EWMA and CUSUM.

    Returns
    -------
    RecipeChart, or Series where it holds fewer than ``LEAST`` lots that can be charted

    Raises
    ------
    UsageError
        If a rule or the baseline cannot be read, or run rules are asked for where they do not hold.
    RefusedInput
        If the baseline holds too few lots, or its lots do not scatter.
    """
    tuning = tuning or Tuning()
    chosen = rules_by_name(rules or ["limits"])
    span = read_baseline(baseline)
    several = _scatter_within(series.points)
    kind = kind or (ChartKind.THREE_WAY if several else ChartKind.INDIVIDUALS)
    if rules and kind not in _RUN_RULES:
        raise UsageError(
            f"run rules do not hold on the {kind} chart, whose points hang together",
            where="--rules",
            hint="leave them out, or ask for --kind individuals",
        )
    charted = series.with_several() if kind in OF_SEVERAL else series
    points = charted.points
    if len(points) < LEAST:
        return charted
    part = span(points)
    means = np.array([one.mean for one in points])
    rows = [one.stresses for one in points]
    if not np.ptp(means[slice(*part)]):
        raise RefusedInput(
            "the lots of the baseline are all exactly alike: no limits can be made from them",
            where=series.recipe,
            hint="look at them: filmstress history wafers --recipe NAME",
        )
    several = _scatter_within(points) and _scatter_within(points[slice(*part)])
    three = three_way_charts(rows, baseline=part) if several else None
    sums = None
    if kind in (ChartKind.XBAR_R, ChartKind.XBAR_S):
        spread = Spread.RANGE if kind is ChartKind.XBAR_R else Spread.SD
        reference = subgroup_reference(rows, spread=spread, baseline=part)
        charts: tuple[Chart, ...] = subgroup_charts(rows, reference, spread=spread)
    else:
        reference = moving_range_reference(means, baseline=part)
        if kind is ChartKind.EWMA:
            charts = (ewma_chart(means, reference, weight=tuning.weight, width=tuning.limit),)
        elif kind is ChartKind.CUSUM:
            charts = ()
            sums = cusum_chart(
                means, reference, allowance=tuning.reference, threshold=tuning.decision
            )
        else:
            charts = individuals_charts(means, reference)
            if kind is ChartKind.THREE_WAY:
                three = three or three_way_charts(rows, baseline=part)
                charts = (*charts, three.within)
    if sums is not None:
        events = of_sums(sums)
    else:
        with_rules = kind in _RUN_RULES
        first = of_rules(charts[0], chosen) if with_rules else of_chart(charts[0])
        events = [*first, *(event for chart in charts[1:] for event in of_chart(chart))]
    return RecipeChart(
        series=charted,
        single=len(series.points) - len(points),
        kind=kind,
        charts=charts,
        sums=sums,
        reference=reference,
        baseline=part,
        rules=chosen if kind in _RUN_RULES else (),
        run_length=_run_length(kind, chosen, tuning),
        tuning=tuning,
        shifted=_run_length(kind, (), tuning, shift=SHIFT) if kind in _SMALL_SHIFTS else None,
        events=tuple(sorted(events, key=lambda one: one.first)),
        three_way=three,
        performance=performance(charted),
    )


def _scatter_within(points: Sequence[LotPoint]) -> bool:
    """Whether every lot holds several wafers, and they are not all exactly alike."""
    rows = [one.stresses for one in points]
    return all(len(row) > 1 for row in rows) and any(min(row) < max(row) for row in rows)


def _run_length(
    kind: ChartKind, rules: tuple[Rule, ...], tuning: Tuning, *, shift: float = 0.0
) -> RunLength:
    if kind is ChartKind.EWMA:
        return tuning.ewma_run_length(shift=shift)
    if kind is ChartKind.CUSUM:
        return tuning.cusum_run_length(shift=shift)
    return rules_run_length(rules, shift=shift)


def read_baseline(text: str) -> Callable[[Sequence[LotPoint]], Baseline]:
    """From what was written to the lots that are meant.

    Raises
    ------
    UsageError
        If it is neither a number nor two days.
    """
    from datetime import datetime

    where = "--baseline"
    if not text:
        return lambda points: (0, len(points))
    if text.isdecimal():
        count = int(text)
        if count < LEAST:
            raise UsageError(
                f"a baseline of {count} lots came, at least {LEAST} are wanted", where=where
            )

        def of_first(points: Sequence[LotPoint]) -> Baseline:
            if count > len(points):
                raise RefusedInput(
                    f"a baseline of {count} lots is wanted, and there are {len(points)}",
                    where=where,
                    hint="ask for fewer, or leave it out to take all",
                )
            return 0, count

        return of_first
    start, dots, end = text.partition("..")
    try:
        days = [day for day in (start, end) if datetime.fromisoformat(day)]
    except ValueError:
        days = []
    if not dots or len(days) != 2:
        raise UsageError(
            f"'{text}' is no baseline", where=where, hint="write 25, or 2026-01-01..2026-03-31"
        )

    def of_days(points: Sequence[LotPoint]) -> Baseline:
        # "2026-03-31T..." sorts behind "2026-03-31": the whole last day belongs.
        inside = [i for i, one in enumerate(points) if start <= one.at < end + "~"]
        if len(inside) < LEAST:
            raise RefusedInput(
                f"{len(inside)} lots lie from {start} to {end}, at least {LEAST} are wanted",
                where=where,
                hint="take a longer time",
            )
        return inside[0], inside[-1] + 1

    return of_days
