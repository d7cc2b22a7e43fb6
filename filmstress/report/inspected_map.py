"""A map of heights as a whole, for readers: data and words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from filmstress.records.surface import MapCurvature
from filmstress.report.fit_data import source_data
from filmstress.report.quantities import (
    Data,
    bare_data,
    notices_data,
    number,
    quantity_data,
    values_data,
)
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import say_estimate, say_value

# Below this share of correlated noise its length means little.
_CORRELATED = 0.1


def map_data(one: MapCurvature) -> Data:
    """One map, its curvatures under ``surface``."""
    return {
        **source_data(one.source),
        "grid_columns": one.columns,
        "grid_rows": one.rows,
        "width": bare_data(one.width, "m"),
        "height": bare_data(one.height, "m"),
        "points": one.points,
        "points_used": one.points_used,
        "surface": {
            "curvature_xx": quantity_data(one.xx),
            "curvature_yy": quantity_data(one.yy),
            "curvature_xy": quantity_data(one.xy),
            "correlation_xx_yy_xy": values_data(_correlation(one.covariance), "1"),
            "curvature_mean": quantity_data(one.mean),
            "principal_curvatures": {
                "high": quantity_data(one.high),
                "low": quantity_data(one.low),
                "axis": quantity_data(one.axis),
            },
            "residual_rms": bare_data(one.residual_rms, "m"),
            "correlation_length": bare_data(one.correlation_length, "m"),
            "block_white_share": number(one.white_share),
            "uncertainty_established": one.established,
        },
        "warnings": notices_data(one.warnings),
    }


def _correlation(covariance: NDArray[np.float64]) -> NDArray[np.float64]:
    u = np.sqrt(np.diag(covariance))
    both = np.multiply.outer(u, u)
    return np.divide(covariance, both, out=np.eye(len(u)), where=both > 0.0)


def map_text(one: MapCurvature) -> str:
    """What was read and found, for a terminal."""
    lines = [
        f"{one.source.path}, the whole map",
        *(row(f"  {label}", text, note) for label, text, note in _rows(one)),
    ]
    for notice in one.warnings:
        lines += wrapped(notice.message, f"  {notice.code}: ", WIDTH)
    return "\n".join(lines)


def _rows(one: MapCurvature) -> Iterator[tuple[str, str, str]]:
    grid = f"{one.columns} x {one.rows} points"
    yield "grid", f"{grid}, {one.points} of them with a height", ""
    yield "extent", f"{say_value(one.width, 'm')} x {say_value(one.height, 'm')}", ""
    yield "heights", f"{say_value(one.lowest_to_highest, 'm')} from lowest to highest", ""
    yield "curvature along x", say_estimate(one.xx, sign=True), "xx"
    yield "curvature along y", say_estimate(one.yy, sign=True), "yy"
    yield "twist", say_estimate(one.xy, sign=True), "xy"
    shape = "a bowl" if one.mean.value > 0.0 else "a dome"
    told = "not distinguishable from flat" if one.mean.holds_zero else f"{shape} on average"
    yield "mean curvature", say_estimate(one.mean, sign=True), told
    alike = one.axis.u is None
    where = "no axis: alike in all directions" if alike else f"along {say_estimate(one.axis)}"
    yield "principal curvatures", say_estimate(one.high, sign=True), where
    yield "", say_estimate(one.low, sign=True), "" if alike else "across it"
    left = f"{say_value(one.residual_rms, 'm', 2)} rms"
    if one.white_share < 1.0 - _CORRELATED:
        left += f", correlated over {say_value(one.correlation_length, 'm', 2)}"
    yield "residuals", left, ""
    masked = one.points - one.points_used
    yield "spikes", f"{masked} point{'s' if masked > 1 else ''} masked" if masked else "none", ""
    for note in one.source.notes:
        yield "", note, ""
    yield "sha256", one.source.sha256, ""
