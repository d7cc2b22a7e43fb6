"""Stress along the scans as plain data, and as a table."""

from __future__ import annotations

import math
from collections.abc import Iterator

from filmstress.records.result import StressResult
from filmstress.records.uneven import StressProfile, UnevenStress
from filmstress.report.quantities import Data, bare_data, number, quantity_data, values_data


def profile_data(result: StressResult) -> list[Data] | None:
    """The profiles, one an azimuth; null where there are none."""
    if result.uneven is None:
        return None
    return [_profile(profile) for profile in result.uneven.profiles]


def _profile(profile: StressProfile) -> Data:
    name = "stress" if profile.unit == "Pa" else "force_per_width"
    return {
        "azimuth": bare_data(profile.azimuth, "rad"),
        "position": values_data(profile.x, "m"),
        name: values_data(profile.value, profile.unit),
        "standard_uncertainty": values_data(profile.u, profile.unit),
        "interval_low": values_data(profile.low, profile.unit),
        "interval_high": values_data(profile.high, profile.unit),
        "coverage_probability": 0.95,
        "band": "pointwise",
        "resolution": bare_data(profile.resolution, "m"),
    }


def uneven_data(uneven: UnevenStress | None) -> Data | None:
    """How uneven the stress is, and by which relation that was found."""
    if uneven is None:
        return None
    unit = uneven.profiles[0].unit
    return {
        "relation": uneven.relation.value,
        "because": uneven.because,
        "neglected": [
            {"name": part.name, "limit": bare_data(part.limit, unit)} for part in uneven.neglected
        ],
        "area_mean": quantity_data(uneven.area_mean),
        "area_mean_minus_stress": quantity_data(uneven.difference),
        "significant": uneven.significant,
        "matters": uneven.matters,
        "lines": uneven.lines,
        "odd_share": number(uneven.odd_share),
        "odd_significant": uneven.odd_significant,
    }


def profile_heads(result: StressResult) -> tuple[str, ...]:
    """Heads of the table of `profile_rows`."""
    unit, name = ("Pa", "stress") if result.stress is not None else ("N/m", "force_per_width")
    columns = (name, "standard_uncertainty", "interval_low", "interval_high")
    return ("azimuth [rad]", "position [m]", *(f"{column} [{unit}]" for column in columns))


def profile_rows(result: StressResult) -> Iterator[tuple[object, ...]]:
    """The profiles as rows of a table in SI units; see `profile_heads`."""
    for profile in () if result.uneven is None else result.uneven.profiles:
        for cells in zip(
            profile.x.tolist(),
            profile.value.tolist(),
            profile.u.tolist(),
            profile.low.tolist(),
            profile.high.tolist(),
            strict=True,
        ):
            told = (None if not math.isfinite(cell) else cell for cell in cells)
            yield (profile.azimuth, *told)
