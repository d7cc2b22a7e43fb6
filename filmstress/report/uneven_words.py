"""Stress along the scans, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from filmstress.records.result import StressResult
from filmstress.records.uneven import Relation, StressProfile, UnevenStress
from filmstress.report.words import display_unit, say_estimate, say_value, signed
from filmstress.stats.rounding import round_pair


def uneven_rows(result: StressResult) -> Iterator[tuple[str, str, str]]:
    """Labels, texts and notes: lowest and highest stress along the scans, mean over the area."""
    uneven = result.uneven
    if uneven is None:
        return
    for profile in uneven.profiles:
        where = "the scan"
        if len(uneven.profiles) > 1:
            where = f"{math.degrees(profile.azimuth):.4g} deg"
        yield f"lowest along {where}", _at(profile, int(profile.value.argmin())), ""
        yield "  highest", _at(profile, int(profile.value.argmax())), ""
    yield "  read as", _relation(uneven), ""
    if uneven.matters and uneven.area_mean is not None and uneven.difference is not None:
        apart = uneven.difference
        side = "higher" if apart.value > 0.0 else "lower"
        yield (
            "mean over the area",
            say_estimate(uneven.area_mean, sign=True),
            f"{side} by {_size(apart.value, apart.expanded or 0.0, apart.unit)}",
        )


def _at(profile: StressProfile, i: int) -> str:
    half = 0.5 * float(profile.high[i] - profile.low[i])
    word, scale = display_unit(max(abs(float(profile.value[i])), half), profile.unit)
    value, u = round_pair(float(profile.value[i]), half, scale=scale)
    place = say_value(float(profile.x[i]) + 0.0, "m", 3)
    return f"{signed(value)} ± {u} {word} at {place}"


def _size(value: float, expanded: float, unit: str) -> str:
    word, scale = display_unit(max(abs(value), expanded), unit)
    told, u = round_pair(abs(value), expanded, scale=scale)
    return f"{told} ± {u} {word}"


def _relation(uneven: UnevenStress) -> str:
    if uneven.relation is Relation.AXISYMMETRIC:
        return f"a film that varies with the radius; {uneven.because}"
    return f"Stoney's equation at every place by itself; {uneven.because}"
