"""A study of a gauge as JSON and as a table."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.report.gauge import Judged, ends_of, remarks, repeatability_words
from filmstress.report.quantities import Data, bare_data, headed, number, values_data
from filmstress.stats.variance_components.gauge_records import Bounded
from filmstress.stats.variance_components.records import Component


def component_heads(judged: Judged) -> tuple[str, ...]:
    """Column heads of `component_rows`."""
    unit = judged.study.unit or "1"
    return (
        "component",
        f"standard_deviation [{unit}]",
        f"interval_low [{unit}]",
        f"interval_high [{unit}]",
        "degrees_of_freedom",
        "share_of_total_variance",
        "below_zero",
    )


def component_rows(judged: Judged) -> Iterator[tuple[object, ...]]:
    """One row a component, the total last."""
    total = judged.found.total
    for name, one in (*judged.components.items(), ("total", total)):
        low, high = ends_of(one)
        share = one.variance / total.variance
        ends = (number(low), number(high))
        yield (name, one.sd, *ends, number(one.dof), share, "yes" if one.negative else "no")


def gauge_data(judged: Judged, version: str) -> Data:
    """A study as one JSON object."""
    found, study = judged.found, judged.study
    unit = study.unit or "1"
    readings, setting = study.readings, repeatability_words(judged)
    return {
        **headed("gauge", version),
        "file": readings.source,
        "reading": study.reading,
        "between": study.between or None,
        "crossed": study.crossed,
        "balanced": study.shape is not None,
        "shape": None if study.shape is None else list(study.shape),
        "readings": {
            "wafers": list(study.wafers),
            "between": list(study.others) or None,
            "values": values_data(study.values, unit),
        },
        "bow_length": bare_data(readings.length, "m"),
        "method": found.method.value,
        "gauge": _component_data(found.gauge, unit),
        "repeatability": _component_data(found.repeatability, unit),
        "between_components": {
            name: _component_data(one, unit) for name, one in judged.between.items()
        },
        "wafers": None if found.part is None else _component_data(found.part, unit),
        "total": bare_data(found.total.sd, unit),
        "gauge_share": _share(found.of_total),
        "gauge_share_interval": _share_interval(found.of_total),
        "distinct_categories": found.categories,
        "tolerance": bare_data(judged.tolerance, unit),
        "tolerance_share": _share(judged.of_tolerance),
        "tolerance_share_interval": _share_interval(judged.of_tolerance),
        "interaction_p_value": number(found.interaction_p),
        "interaction_pooled": found.pooled,
        "bow_repeatability": bare_data(found.gauge.sd, "m") if study.unit == "m" else None,
        "bow_repeatability_setting": setting,
        "anova": [
            {
                "source": one.source,
                "sum_of_squares": number(one.sum_of_squares),
                "degrees_of_freedom": one.dof,
                "mean_square": number(one.mean_square),
            }
            for one in found.table
        ],
        "remarks": list(remarks(judged)),
        "warnings": [],
    }


def _component_data(one: Component, unit: str) -> Data:
    low, high = ends_of(one)
    return {
        "standard_deviation": bare_data(one.sd, unit),
        "interval": [number(low), number(high)],
        "degrees_of_freedom": number(one.dof),
        "below_zero": one.negative,
    }


def _share(of: Bounded | None) -> float | None:
    return None if of is None else number(0.01 * of.value)


def _share_interval(of: Bounded | None) -> list[float | None] | None:
    return None if of is None else [number(0.01 * of.low), number(0.01 * of.high)]
