"""Control charts of a recipe for readers: words, JSON and the points as a table."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from filmstress.charting.charts import LEAST, ChartKind, RecipeChart
from filmstress.charting.events import Event
from filmstress.charting.lots import LotPoint, Series
from filmstress.charting.process import Performance, Scatter
from filmstress.report.chart_words import (
    KIND_WORDS,
    baseline_words,
    happened,
    left_out,
    left_out_words,
    limits_of_means,
    provisional_words,
    rules_words,
    specification_words,
    verdict,
)
from filmstress.report.quantities import Data, bare_data, headed, number, quantity_data, values_data
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import minus, say_value
from filmstress.stats.capability import Capability, Index
from filmstress.stats.control.chart import Chart, Kind
from filmstress.stats.coverage import estimate

POINT_HEADS = (
    "entry",
    "at",
    "lot",
    "wafers",
    "mean_stress [Pa]",
    "standard_uncertainty [Pa]",
    "standard_uncertainty_between_lots [Pa]",
    "in_baseline",
    "signals",
    "lower_specification [Pa]",
    "upper_specification [Pa]",
)
_SHORT = {Kind.MOVING_RANGE: "moving range", Kind.RANGES: "range within a lot"}
_SHORT[Kind.SDS] = "SD within a lot"
_CHART_HEADS = ("point", "centre", "lower_control_limit", "upper_control_limit")


def chart_text(chart: RecipeChart) -> str:
    """Everything for a terminal."""
    points = chart.points
    blocks: list[list[str]] = [
        [
            f"{chart.series.recipe}: {verdict(chart)}",
            f"  {len(points)} lots, {points[0].at[:10]} to {points[-1].at[:10]}; "
            f"{chart.series.wafers} wafers",
        ],
        [line for one in chart.events for line in wrapped(happened(chart, one), "  * ", WIDTH)],
        list(_limits(chart)),
        list(_scatter(chart)),
        list(_measurement(points)),
        list(_capability(chart)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def too_few_text(series: Series) -> str:
    """Why there is no chart yet."""
    n = len(series.points)
    lots = f"{n} lot{'s' if n != 1 else ''}"
    told = (
        f"No control chart of '{series.recipe}' yet: {lots} that can be charted, at least {LEAST} "
        "are wanted (25 for limits that are settled)."
    )
    lines = list(wrapped(told, "", WIDTH))
    if out := left_out(series):
        lines += wrapped(out, "  left out: ", WIDTH)
    return "\n".join(lines)


def _told(label: str, text: str) -> Iterator[str]:
    yield from wrapped(text, row(label, " ").rstrip().ljust(30), WIDTH)


def _limits(chart: RecipeChart) -> Iterator[str]:
    centre, low, high = limits_of_means(chart)
    yield "Control limits: where this process usually runs"
    yield from _told("  chart", KIND_WORDS[chart.kind])
    yield from _told("  baseline", baseline_words(chart))
    yield row("  centre line", centre)
    if chart.sums is not None:
        yield row("  limit of the sums", high)
    else:
        uneven = float(np.ptp(chart.charts[0].upper)) > 0.0
        yield row("  limits of a mean", f"{low} to {high}{' at the latest lot' if uneven else ''}")
    for one in chart.charts[1:]:
        high = say_value(float(one.upper[-1]), "Pa", 3)
        yield row(f"  {_SHORT[one.kind]}", f"up to {high}")
    signals, often = rules_words(chart)
    yield from _told("  what signals", signals)
    yield from _told("", often)
    if told := provisional_words(chart):
        yield from wrapped(told, "  ", WIDTH)
    if told := left_out_words(chart):
        yield from _told("  left out", told)


def _scatter(chart: RecipeChart) -> Iterator[str]:
    three = chart.three_way
    yield "Scatter in the baseline (standard deviations)"
    if three is None:
        yield row("  of a lot's mean", say_value(chart.reference.sigma, "Pa", 3))
        return
    yield row("  of a lot's mean", say_value(three.sigma_means, "Pa", 3))
    yield row("  of wafers within a lot", say_value(three.sigma_within, "Pa", 3))
    between = "none beyond what the wafers within lots explain"
    if not three.between_negative:
        between = f"{say_value(three.sigma_between, 'Pa', 3)} beyond what the wafers explain"
    yield row("  between lots", between)
    if chart.kind in ("xbar-r", "xbar-s") and three.sigma_between > 0.5 * three.sigma_within:
        told = (
            "The lots differ among themselves by more than the wafers within them explain, so the "
            "limits of the means are too narrow here: --kind three-way has limits that hold."
        )
        yield from wrapped(told, "  ", WIDTH)


def _measurement(points: Sequence[LotPoint]) -> Iterator[str]:
    own = [one.own_u for one in points]
    shared = [one.shared_u for one in points]
    yield "Measurement (standard uncertainty of a lot's mean)"
    if None in own:
        yield "  not known for every lot"
        return
    yield row("  differs from lot to lot", say_value(_rms(own), "Pa", 2))
    common = f"{say_value(_rms(shared), 'Pa', 2)}: moves all points alike and hides no change"
    yield row("  common to all lots", common)


def _rms(values: Sequence[float | None]) -> float:
    return math.sqrt(math.fsum((x or 0.0) ** 2 for x in values) / len(values))


def _capability(chart: RecipeChart) -> Iterator[str]:
    made = chart.performance
    if made is None:
        return
    yield "Capability: single wafers against the specification, which is no control limit"
    told = specification_words(made.lower, made.upper)
    changed = "  of the latest lot; earlier ones had others" if made.changed else ""
    yield row("  specification", told + changed)
    yield row("  mean of the lots", say_value(made.mean, "Pa", 4))
    yield row("", f"{'as observed (95 %)':<26}without the measurement's scatter")
    for name, raw, net in _indices(made):
        yield row(f"  {name}", f"{_say(raw):<26}{_say(net) if net else 'not told'}")
    short, long = ("Cp and Cpk", "Pp and Ppk") if made.raw.potential else ("Cpk", "Ppk")
    yield from wrapped(
        f"{short} by the scatter of neighbouring lots, {long} by that of all; those with k by the "
        "distance of the mean to the nearer limit. Of all charted lots, in the baseline or not.",
        "  ",
        WIDTH,
    )
    if made.wafer_u is None:
        yield "  The uncertainty of some wafers is not known, so the measurement is not taken out."
    elif made.net is None or made.net_long is None:
        yield from wrapped(
            f"The measurement alone scatters wafers by {say_value(made.wafer_u, 'Pa', 2)}: nearly "
            "all that is seen, so nothing can be said of the process without it.",
            "  ",
            WIDTH,
        )
    if chart.events:
        yield from wrapped(
            "The charts signal: these numbers describe lots that were not all alike, and foretell "
            "little.",
            "  ",
            WIDTH,
        )


def capability_line(chart: RecipeChart) -> str:
    """Capability as one line; empty where the lots have no limits."""
    made = chart.performance
    if made is None:
        return ""
    told = specification_words(made.lower, made.upper)
    found = "; ".join(f"{name} {_say(raw)}" for name, raw, _ in _indices(made))
    return f"Capability of single wafers, specification {told}: {found}, 95 % intervals."


def _indices(made: Performance) -> Iterator[tuple[str, Index, Index | None]]:
    for names, raw, net in (
        (("Cp", "Cpk"), made.raw, made.net),
        (("Pp", "Ppk"), made.raw_long, made.net_long),
    ):
        if raw.potential is not None:
            yield names[0], raw.potential, None if net is None else net.potential
        yield names[1], raw.actual, None if net is None else net.actual


def _say(index: Index) -> str:
    return minus(f"{index.value:.2f}") + f" ({minus(f'{index.low:.2f}')} to {index.high:.2f})"


def point_rows(chart: RecipeChart) -> tuple[tuple[str, ...], list[tuple[object, ...]]]:
    """Heads and one row a lot, every chart's point and limits behind."""
    heads = [*POINT_HEADS]
    columns = []
    for name, one in zip(_names(chart), chart.charts, strict=True):
        heads += [f"{name}_{head} [Pa]" for head in _CHART_HEADS]
        columns += [one.points, one.centre, one.lower, one.upper]
    if chart.sums is not None:
        heads += ["sum_above [Pa]", "sum_below [Pa]", "threshold [Pa]"]
        limit = np.full(len(chart.points), chart.sums.threshold)
        columns += [chart.sums.high, chart.sums.low, limit]
    first, stop = chart.baseline
    rows: list[tuple[object, ...]] = []
    for i, lot in enumerate(chart.points):
        rows.append(
            (
                lot.entry,
                lot.at,
                lot.lot,
                len(lot.stresses),
                lot.mean,
                lot.u,
                lot.own_u,
                first <= i < stop,
                "; ".join(happened(chart, event) for event in chart.events if i in event.points),
                lot.lower,
                lot.upper,
                *(number(float(column[i])) for column in columns),
            )
        )
    return tuple(heads), rows


def _names(chart: RecipeChart) -> list[str]:
    return [one.kind.value.replace(" ", "_") for one in chart.charts]


def chart_data(chart: RecipeChart, version: str) -> Data:
    """Everything as one JSON object."""
    first, stop = chart.baseline
    three = chart.three_way
    average = chart.run_length
    return {
        **headed("chart", version),
        "recipe": chart.series.recipe,
        "kind": chart.kind.value,
        "reason": None,
        "left_out": _left_out_data(chart.series) | {"lots_of_one_wafer": chart.single},
        "baseline": {
            "lots": stop - first,
            "first_lot": chart.points[first].lot,
            "last_lot": chart.points[stop - 1].lot,
            "provisional": chart.reference.provisional,
        },
        "centre": bare_data(chart.reference.centre, "Pa"),
        "sigma": bare_data(chart.reference.sigma, "Pa"),
        "rules": [one.name for one in chart.rules],
        "lots_between_false_alarms": {
            "average": average.average,
            "standard_error": average.standard_error,
            "simulated": average.simulated,
        },
        "settings": _settings_data(chart),
        "scatter": None
        if three is None
        else {
            "lot_means": bare_data(three.sigma_means, "Pa"),
            "within_lots": bare_data(three.sigma_within, "Pa"),
            "between_lots": bare_data(three.sigma_between, "Pa"),
        },
        "lots": [_point_data(one) for one in chart.points],
        "charts": [_chart_data(one) for one in chart.charts],
        "sums": None
        if chart.sums is None
        else {
            "above": values_data(chart.sums.high, "Pa"),
            "below": values_data(chart.sums.low, "Pa"),
            "threshold": bare_data(chart.sums.threshold, "Pa"),
        },
        "events": [_event_data(chart, one) for one in chart.events],
        "capability": _performance_data(chart.performance),
        "warnings": [],
    }


def _settings_data(chart: RecipeChart) -> Data | None:
    """Of the charts for small lasting shifts; numbers of sigma."""
    if chart.shifted is None:
        return None
    tuning = chart.tuning
    told: Data = {"reference": tuning.reference, "decision_interval": tuning.decision}
    if chart.kind is ChartKind.EWMA:
        told = {"weight": tuning.weight, "limit": tuning.limit}
    seen = {"shift_in_sigma": chart.shifted.shift, "average": chart.shifted.average}
    return told | {"lots_until_seen": seen}


def too_few_data(series: Series, version: str) -> Data:
    """The JSON object where there is no chart yet."""
    return {
        **headed("chart", version),
        "recipe": series.recipe,
        "kind": None,
        "reason": too_few_text(series).splitlines()[0],
        "left_out": _left_out_data(series),
        "lots": [_point_data(one) for one in series.points],
        "charts": [],
        "events": [],
        "warnings": [],
    }


def _left_out_data(series: Series) -> Data:
    return {
        "refused_wafers": series.refused,
        "wafers_without_film_thickness": series.unstated,
        "other_than_product": series.witnesses,
        "empty_lots": list(series.empty),
        "recomputed_entries": list(series.again),
    }


def _point_data(one: LotPoint) -> Data:
    return {
        "entry": one.entry,
        "lot": one.lot,
        "at": one.at,
        "wafers": len(one.stresses),
        "mean_stress": quantity_data(estimate(one.mean, "Pa", u=one.u, dof=one.dof)),
        "uncertainty_between_lots": bare_data(one.own_u, "Pa"),
        "lower_specification": bare_data(one.lower, "Pa"),
        "upper_specification": bare_data(one.upper, "Pa"),
    }


def _chart_data(one: Chart) -> Data:
    return {
        "of": one.kind.value,
        "points": values_data(one.points, "Pa"),
        "centre": values_data(one.centre, "Pa"),
        "lower_control_limit": values_data(one.lower, "Pa"),
        "upper_control_limit": values_data(one.upper, "Pa"),
    }


def _event_data(chart: RecipeChart, event: Event) -> Data:
    return {
        "chart": "cumulative sums" if event.kind is None else event.kind.value,
        "rule": None if event.rule is None else event.rule.name,
        "side": event.side or None,
        "first_lot": chart.points[event.first].lot,
        "since": chart.points[event.first].at,
        "last_lot": chart.points[event.last].lot,
        "told_at_lot": chart.points[event.signalled].lot,
        "shift": bare_data(event.shift, "Pa"),
        "text": happened(chart, event),
    }


def _performance_data(made: Performance | None) -> Data | None:
    if made is None:
        return None
    return {
        "lower_specification": bare_data(made.lower, "Pa"),
        "upper_specification": bare_data(made.upper, "Pa"),
        "specification_changed": made.changed,
        "mean": bare_data(made.mean, "Pa"),
        "measurement_scatter": bare_data(made.wafer_u, "Pa"),
        "common_uncertainty": bare_data(made.shared_u, "Pa"),
        "neighbouring_lots": _both_data(made.short, made.raw, made.net, "cp"),
        "all_lots": _both_data(made.long, made.raw_long, made.net_long, "pp"),
    }


def _both_data(scatter: Scatter, raw: Capability, net: Capability | None, name: str) -> Data:
    return {
        "sigma": bare_data(scatter.sigma, "Pa"),
        "degrees_of_freedom": number(scatter.dof),
        "as_observed": _capability_data(raw, name),
        "without_measurement": None if net is None else _capability_data(net, name),
    }


def _capability_data(made: Capability, name: str) -> Data:
    return {name: _index_data(made.potential), f"{name}k": _index_data(made.actual)}


def _index_data(index: Index | None) -> Data | None:
    if index is None:
        return None
    return {"index": index.value, "low": index.low, "high": index.high}
