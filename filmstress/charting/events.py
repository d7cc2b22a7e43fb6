"""From single signals to what happened: signals that belong together become one event."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.stats.control.chart import Chart, Kind
from filmstress.stats.control.rules import Rule, signals
from filmstress.stats.control.small_shifts import CusumChart


@dataclass(frozen=True, slots=True)
class Event:
    """Something that a chart shows.

    Attributes
    ----------
    kind : Kind or None
        Of the chart; None for cumulative sums.
    rule : Rule or None
        The run rule; None for a point beyond a limit of a chart without rules.
    side : str
        "above" or "below" the centre, "rising", "falling", or "".
    points : tuple of int
        Points that make it up, counted from 0.
    signalled : int
        The point at which it could first be told.
    shift : float or None
        Estimated shift of the mean since its first point [unit], signed; of cumulative sums.
    """

    kind: Kind | None
    rule: Rule | None
    side: str
    points: tuple[int, ...]
    signalled: int
    shift: float | None = None

    @property
    def first(self) -> int:
        """Where it began."""
        return self.points[0]

    @property
    def last(self) -> int:
        """Where it was last seen."""
        return self.points[-1]


def of_rules(chart: Chart, rules: tuple[Rule, ...]) -> list[Event]:
    """Events of run rules: signals of one rule and side whose points touch are one."""
    events: list[Event] = []
    open_at: dict[tuple[Rule, str], int] = {}
    for signal in signals(chart, rules):
        key = (signal.rule, signal.side)
        before = events[open_at[key]] if key in open_at else None
        if before is not None and signal.points[0] <= before.last + 1:
            points = tuple(sorted({*before.points, *signal.points}))
            events[open_at[key]] = Event(
                chart.kind, signal.rule, signal.side, points, before.signalled
            )
        else:
            open_at[key] = len(events)
            events.append(Event(chart.kind, signal.rule, signal.side, signal.points, signal.index))
    return events


def of_chart(chart: Chart) -> list[Event]:
    """Points beyond a limit, neighbours on one side as one event."""
    events: list[Event] = []
    for i in chart.outside:
        side = "above" if chart.points[i] > chart.upper[i] else "below"
        if events and events[-1].last == i - 1 and events[-1].side == side:
            before = events.pop()
            events.append(Event(chart.kind, None, side, (*before.points, i), before.signalled))
        else:
            events.append(Event(chart.kind, None, side, (i,), i))
    return events


def of_sums(sums: CusumChart) -> list[Event]:
    """What cumulative sums show: every passing of the threshold, and since when."""
    return [
        Event(None, None, one.side, tuple(range(one.began, one.last + 1)), one.told, one.shift)
        for one in sums.passings
    ]
