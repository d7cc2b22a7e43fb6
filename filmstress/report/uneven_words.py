"""Stress along the scans, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from filmstress.records.result import StressResult
from filmstress.records.uneven import Relation, StressProfile, UnevenStress
from filmstress.report.words import say_estimate, say_value, signed
from filmstress.report.words import display_unit as shown_in
from filmstress.stats.rounding import round_pair


def uneven_rows(result: StressResult) -> Iterator[tuple[str, str, str]]:
    """Labels, texts and notes: lowest and highest stress along the scans, mean over the area."""
    uneven = result.uneven
    if uneven is None:
        return
    name = "stress" if result.stress is not None else "force"
    for profile in uneven.profiles:
        where = "the scan"
        if len(uneven.profiles) > 1:
            where = f"{math.degrees(profile.azimuth):.4g} deg"
        ends = sorted((int(profile.value.argmin()), int(profile.value.argmax())))
        told = " and ".join(_at(profile, i) for i in ends)
        yield f"{name} from place to place", "" if where == "the scan" else f"along {where}", ""
        yield "  lowest and highest", told, ""
    yield "  read as", _relation(uneven), ""
    if uneven.matters and uneven.area_mean is not None and uneven.difference is not None:
        apart = uneven.difference
        side = "higher" if apart.value > 0.0 else "lower"
        yield (
            "  mean over the area",
            say_estimate(uneven.area_mean, sign=True),
            f"{_size(apart.value, apart.expanded or 0.0, apart.unit)} {side}",
        )


def _at(profile: StressProfile, i: int) -> str:
    half = 0.5 * float(profile.high[i] - profile.low[i])
    word, scale = shown_in(max(abs(float(profile.value[i])), half), profile.unit)
    value, u = round_pair(float(profile.value[i]), half, scale=scale)
    place = say_value(float(profile.x[i]) + 0.0, "m", 3)
    return f"{signed(value)} ± {u} {word} at {place}"


def _size(value: float, expanded: float, unit: str) -> str:
    word, scale = shown_in(max(abs(value), expanded), unit)
    told, u = round_pair(abs(value), expanded, scale=scale)
    return f"{told} ± {u} {word}"


def _relation(uneven: UnevenStress) -> str:
    if uneven.relation is Relation.AXISYMMETRIC:
        return f"a film that varies with the radius ({uneven.because})"
    return f"Stoney's equation at every place: {uneven.because}"
