"""A map of heights as a whole, for readers: data and words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from filmstress.records.quantity import Estimate
from filmstress.records.surface import MapCurvature
from filmstress.report.fit_data import source_data
from filmstress.report.quantities import Data, bare_data, quantity_data
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import say_estimate, say_value
from filmstress.stats.coverage import estimate

_NOT_ESTABLISHED = (
    "what the surface leaves is correlated over so much of the map that it cannot establish its "
    "own uncertainty"
)


def maps_data(maps: Sequence[MapCurvature]) -> Data:
    """All maps, under ``maps``; nothing where there is none."""
    return {"maps": [_map_data(one) for one in maps]} if maps else {}


def _map_data(one: MapCurvature) -> Data:
    rows, columns = one.shape
    high, low = _principal(one)
    return {
        **source_data(one.source),
        "columns": columns,
        "grid_rows": rows,
        "points": one.measured,
        "points_used": one.used,
        "width": bare_data(one.width, "m"),
        "height": bare_data(one.height, "m"),
        "curvature_mean": quantity_data(_estimate(one, *one.mean)),
        "curvature_high": quantity_data(high),
        "curvature_low": quantity_data(low),
        "curvature_axis": quantity_data(_axis(one)),
        "curvature_tensor": {
            "unit": "1/m",
            "components": ["xx", "yy", "xy"],
            "values": one.curvature.tolist(),
            "covariance": one.covariance.tolist(),
        },
        "residual_rms": bare_data(one.residual_rms, "m"),
        "correlation_length": bare_data(one.correlation_length, "m"),
        "established": one.established,
    }


def map_text(one: MapCurvature) -> str:
    """What was read and found, for a terminal."""
    lines = [
        f"{one.source.path}, the whole map",
        *(row(f"  {label}", text, note) for label, text, note in _rows(one)),
    ]
    if not one.established:
        lines += wrapped(_NOT_ESTABLISHED, "  note: ", WIDTH)
    return "\n".join(lines)


def _rows(one: MapCurvature) -> Iterator[tuple[str, str, str]]:
    rows, columns = one.shape
    yield "grid", f"{columns} x {rows} points, {one.measured} of them measured", ""
    yield "extent", f"{say_value(one.width, 'm')} x {say_value(one.height, 'm')}", ""
    yield "heights", f"{say_value(one.lowest_to_highest, 'm')} from lowest to highest", ""
    high, low = _principal(one)
    mean = _estimate(one, *one.mean)
    shape = "a bowl" if mean.value > 0.0 else "a dome"
    told = "not distinguishable from flat" if mean.holds_zero else f"{shape}, on average"
    yield "mean curvature", say_estimate(mean, sign=True), told
    yield "principal curvatures", f"{say_estimate(high, sign=True)} and", ""
    yield "", say_estimate(low, sign=True), ""
    axis = _axis(one)
    alike = "alike in all directions, as far as can be told"
    yield "  the first along", say_estimate(axis) if axis.u is not None else alike, ""
    left = f"{say_value(one.residual_rms, 'm', 2)} rms"
    yield "residuals", f"{left}, correlated over {say_value(one.correlation_length, 'm', 2)}", ""
    masked = one.measured - one.used
    yield "spikes", f"{masked} points masked" if masked else "none", ""


def _estimate(one: MapCurvature, value: float, u: float) -> Estimate:
    return estimate(value, "1/m", u=u, dof=one.dof)


def _principal(one: MapCurvature) -> tuple[Estimate, Estimate]:
    axis = one.axis[0]
    high, low = (one.along(axis + turn) for turn in (0.0, 0.5 * math.pi))
    return _estimate(one, *high), _estimate(one, *low)


def _axis(one: MapCurvature) -> Estimate:
    value, u = one.axis
    return estimate(value, "rad", u=u, dof=math.inf if u is None else one.dof)
