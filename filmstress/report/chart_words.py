"""What control charts show, in sentences; the same on the screen and in the figure."""

from __future__ import annotations

from filmstress.charting.charts import ChartKind, RecipeChart
from filmstress.charting.events import Event
from filmstress.charting.lots import Series
from filmstress.report.words import again_words, say_ends, say_number, say_value, signed
from filmstress.stats.control.chart import SETTLED_AT, Kind
from filmstress.stats.control.rules import BEYOND_LIMIT, Pattern

KIND_WORDS = {
    ChartKind.INDIVIDUALS: "individuals: mean of each lot, and its moving range",
    ChartKind.THREE_WAY: "three-way: mean of each lot, its moving range, and wafers within lots",
    ChartKind.XBAR_R: "mean and range: limits from the range within lots",
    ChartKind.XBAR_S: "mean and standard deviation: limits from the scatter within lots",
    ChartKind.EWMA: "moving average with fading memory (EWMA) of the lots' means",
    ChartKind.CUSUM: "cumulative sums (CUSUM) of the lots' means",
}

POINT_WORDS = {
    Kind.INDIVIDUALS: "mean of a lot",
    Kind.MEANS: "mean of a lot",
    Kind.MOVING_RANGE: "moving range of the means",
    Kind.RANGES: "range within a lot",
    Kind.SDS: "standard deviation within a lot",
    Kind.EWMA: "moving average of the means",
}


def happened(chart: RecipeChart, event: Event) -> str:
    """One event as a sentence: since when, and what."""
    points = chart.points
    first = points[event.first].name
    count = len(event.points)
    over = "up to the latest lot" if lasts(chart, event) else f"up to lot {points[event.last].name}"
    if event.kind is None:
        return _of_sums(chart, event, over)
    if event.rule is None or event.rule == BEYOND_LIMIT:
        limit = "upper" if event.side == "above" else "lower"
        what = f"{POINT_WORDS[event.kind]} {event.side} the {limit} control limit"
        if count == 1:
            return f"lot {first}: {what}"
        return f"since lot {first}: {what}, {count} lots, {over}"
    return f"since lot {first}: {_pattern(event, count)}" + (f", {over}" if count > 1 else "")


def _pattern(event: Event, count: int) -> str:
    rule = event.rule
    assert rule is not None
    sigma = "1 sigma" if rule.beyond == 1.0 else f"{rule.beyond:g} sigma"
    if rule.pattern is Pattern.TREND:
        return f"{count} in a row steadily {event.side}"
    if rule.pattern is Pattern.ALTERNATING:
        return f"{count} in a row up and down in turn"
    if rule.pattern is Pattern.WITHIN:
        return f"{count} in a row within {sigma} of the centre line, closer than chance has it"
    if rule.pattern is Pattern.OUTSIDE:
        return f"{count} in a row farther than {sigma} from the centre line, on either side"
    if rule.beyond == 0.0:
        return f"{count} in a row {event.side} the centre line"
    return f"{count} lots farther than {sigma} {event.side} the centre line ({rule.name})"


def _of_sums(chart: RecipeChart, event: Event, over: str) -> str:
    shift = say_value(event.shift or 0.0, "Pa", 2)
    seen = chart.points[event.signalled].name
    shift = shift if shift.startswith("−") else f"+{shift}"
    return (
        f"since about lot {chart.points[event.first].name}: the mean lies {event.side} the centre "
        f"line, by about {shift}; told at lot {seen}, {over}"
    )


def verdict(chart: RecipeChart) -> str:
    """The headline: whether anything was signalled."""
    if not chart.events:
        return "nothing signals: the lots scatter as in the baseline"
    n, going_on = len(chart.events), sum(lasts(chart, one) for one in chart.events)
    told = f"{n} signal{'s' if n != 1 else ''}"
    return f"{told}, {going_on} of them up to the latest lot" if going_on else told


def lasts(chart: RecipeChart, event: Event) -> bool:
    """Whether an event reaches the latest lot."""
    return event.last == len(chart.points) - 1


def baseline_words(chart: RecipeChart) -> str:
    """Which lots the limits are made from."""
    first, stop = chart.baseline
    count = stop - first
    whole = "all " if count == len(chart.points) else ""
    ends = [f"{one.lot} ({one.at[:10]})" for one in (chart.points[first], chart.points[stop - 1])]
    return f"{whole}{count} lots, {ends[0]} to {ends[1]}"


def provisional_words(chart: RecipeChart) -> str:
    """A caution where the limits stand on few lots; empty otherwise."""
    first, stop = chart.baseline
    if not chart.reference.provisional:
        return ""
    return (
        f"The limits are provisional: they stand on {stop - first} lots, and settle from "
        f"{SETTLED_AT} on. Until then false alarms may be much more, or less, frequent than stated."
    )


def rules_words(chart: RecipeChart) -> list[str]:
    """What signals, and how often it would without cause."""
    often = (
        f"in a process that does not change, a false alarm of the means once in "
        f"{lots_words(chart.run_length.average)} on average"
    )
    if chart.shifted is not None:
        often += (
            f"; a lasting shift of {chart.shifted.shift:g} sigma is seen after "
            f"{lots_words(chart.shifted.average)} on average"
        )
    tuning = chart.tuning
    if chart.kind is ChartKind.EWMA:
        return [
            f"the average beyond its limit, {tuning.limit:g} of its standard deviations; weight of "
            f"the newest lot {tuning.weight:g}",
            often,
        ]
    if chart.kind is ChartKind.CUSUM:
        return [
            f"a sum beyond the decision interval of {tuning.decision:g} sigma; reference value "
            f"{tuning.reference:g} sigma",
            often,
        ]
    names = [
        "a point beyond a control limit" if one == BEYOND_LIMIT else one.name for one in chart.rules
    ]
    return ["; ".join(names), often]


def lots_words(average: float) -> str:
    """An average run length: "371 lots", "10.4 lots", "more than a million lots"."""
    if average >= 1e6:
        return "more than a million lots"
    return f"{average:.0f} lots" if average >= 20.0 else f"{average:.3g} lots"


def limits_of_means(chart: RecipeChart) -> tuple[str, str, str]:
    """Centre, and lower and upper control limit of the latest lot, in one unit."""
    sigma = chart.reference.sigma
    far = chart.tuning.decision * sigma
    centre, low, high = chart.reference.centre, -far, far
    if chart.charts:
        low, high = float(chart.charts[0].lower[-1]), float(chart.charts[0].upper[-1])
    return say_ends(centre, centre, sigma, "Pa")[1], *say_ends(low, high, sigma, "Pa")


def specification_words(lower: float | None, upper: float | None) -> str:
    """Limits that the lots have to keep."""
    if lower is None and upper is None:
        return "none"
    if lower is None or upper is None:
        side, limit = ("at least", lower) if upper is None else ("at most", upper)
        assert limit is not None
        return f"{side} {_mpa(limit)} MPa"
    return f"{_mpa(lower)} to {_mpa(upper)} MPa"


def _mpa(value: float) -> str:
    return signed(say_number(value, 5, 1e6))


def left_out_words(chart: RecipeChart) -> str:
    """What is not on the charts; empty where nothing was left out."""
    series = chart.series
    return left_out(series, chart.single)


def left_out(series: Series, single: int = 0) -> str:
    """Counts of what is left out of a series, as a list."""
    told = []
    for count, one, many in (
        (series.refused, "wafer refused", "wafers refused"),
        (series.unstated, "wafer without a film thickness", "wafers without a film thickness"),
        (series.witnesses, "wafer that is no product", "wafers that are no product"),
        (single, "lot of a single wafer", "lots of a single wafer"),
    ):
        if count:
            told.append(f"{count} {one if count == 1 else many}")
    if empty := series.empty:
        shown = ", ".join(empty[:5]) + (", ..." if len(empty) > 5 else "")
        told.append(f"nothing is left of lot{'s' if len(empty) > 1 else ''} {shown}")
    if series.again:
        told.append(again_words(series.again).rstrip(","))
    return "; ".join(told)
