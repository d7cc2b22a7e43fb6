"""Scans by themselves for readers: data, table, words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from filmstress.errors import FilmstressError
from filmstress.measure.single import InspectedScan
from filmstress.records.curvature import CurvatureFit
from filmstress.records.quantity import Estimate
from filmstress.records.scan import ScanSource
from filmstress.records.surface import MapCurvature
from filmstress.report.fit_data import fit_data, source_data
from filmstress.report.inspected_map import map_data
from filmstress.report.quantities import Data, bare_data, headed, notices_data
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import say_estimate, say_value, say_values
from filmstress.stats.coverage import estimate
from filmstress.stats.median import median

TABLE_HEADS = (
    "file",
    "trace",
    "rows",
    "left_out",
    "points",
    "points_used",
    "length [m]",
    "curvature [1/m]",
    "curvature_u [1/m]",
    "bow [m]",
    "bow_u [m]",
    "warnings",
)

# A step this many times the usual one is a gap.
_GAP = 3.0


def inspection_data(
    scans: Sequence[InspectedScan],
    maps: Sequence[MapCurvature],
    refused: Sequence[tuple[str, FilmstressError]],
    version: str,
) -> Data:
    """All scans and maps that were read, and the files that could not be."""
    return {
        **headed("inspect", version),
        "scans": [_scan_data(one) for one in scans],
        "maps": [map_data(one) for one in maps],
        "refused": [{"file": path, "message": str(error)} for path, error in refused],
    }


def _scan_data(one: InspectedScan) -> Data:
    fit = one.curvature.fit
    middle, _, gaps = _sampling(one)
    return {
        **source_data(one.scan.source),
        **fit_data(fit),
        "length": bare_data(one.scan.length, "m"),
        "sampling_interval": bare_data(middle, "m"),
        "gaps": gaps,
        "warnings": notices_data(one.curvature.warnings),
    }


def table_row(one: InspectedScan) -> tuple[object, ...]:
    """One scan under :data:`TABLE_HEADS`."""
    fit = one.curvature.fit
    bow = _bow(fit)
    return (
        one.scan.source.path,
        "" if one.scan.source.trace is None else one.scan.source.trace,
        one.scan.source.rows,
        "; ".join(
            f"{left.count} {left.reason} (first in line {left.first_line})"
            for left in one.scan.source.left_out
        ),
        fit.points,
        fit.points_used,
        one.scan.length,
        fit.curvature,
        fit.u,
        bow.value,
        bow.u,
        " ".join(dict.fromkeys(notice.code.value for notice in one.curvature.warnings)),
    )


def scan_text(one: InspectedScan) -> str:
    """What was read and found, for a terminal."""
    lines = [
        _title(one.scan.source),
        *(row(f"  {label}", text, note) for label, text, note in _rows(one)),
    ]
    for notice in one.curvature.warnings:
        lines += wrapped(notice.message, f"  {notice.code}: ", WIDTH)
    return "\n".join(lines)


def _title(source: ScanSource) -> str:
    """The file, with the number of the scan where it holds several."""
    if source.trace is None:
        return source.path
    return f"{source.path} #{source.trace}" + (
        f"  {source.trace_name}" if source.trace_name else ""
    )


def _rows(one: InspectedScan) -> Iterator[tuple[str, str, str]]:
    scan, source, fit = one.scan, one.scan.source, one.curvature.fit
    yield (
        "columns",
        f"{source.position_column} [{source.position_unit}], "
        f"{source.height_column} [{source.height_unit}]",
        "",
    )
    yield "points", f"{scan.x.size} of {source.rows} rows", ""
    ends = say_values([float(scan.x[0]), float(scan.x[-1])], "m")
    yield "length", f"{say_value(scan.length, 'm')}, from {' to '.join(ends)}", ""
    middle, widest, gaps = _sampling(one)
    some = f", {gaps} gap{'s' if gaps > 1 else ''} up to {say_value(widest, 'm')}" if gaps else ""
    yield "sampling", say_value(middle, "m") + some, ""
    yield "heights", f"{say_value(float(np.ptp(scan.z)), 'm')} from lowest to highest", ""
    found = estimate(fit.curvature, "1/m", u=fit.u, dof=fit.dof)
    shape = "a bowl" if fit.curvature > 0.0 else "a dome"
    told = "not distinguishable from flat" if found.holds_zero else shape
    yield "curvature", say_estimate(found, sign=True), told
    yield "bow over the scan", say_estimate(_bow(fit), sign=True), ""
    residuals = f"{say_value(fit.residual_rms, 'm', 2)} rms"
    if math.isfinite(fit.correlation_length):
        residuals += f", correlated over {say_value(fit.correlation_length, 'm', 2)}"
    yield "residuals", residuals, ""
    yield "spikes", _spikes(fit), ""
    for note in source.notes:
        yield "", note, ""
    yield "sha256", source.sha256, ""


def _spikes(fit: CurvatureFit) -> str:
    masked = fit.points - fit.points_used
    if not masked:
        return "none"
    counts = ((fit.particles, "particle"), (fit.dropouts, "wild point"))
    named = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in counts if n]
    return f"{' and '.join(named)}: {masked} point{'s' if masked > 1 else ''} masked"


def _bow(fit: CurvatureFit) -> Estimate:
    return estimate(fit.bow, "m", u=fit.u * fit.length**2 / 8.0, dof=fit.dof)


def _sampling(one: InspectedScan) -> tuple[float, float, int]:
    """Usual and widest step [m], and how many are gaps."""
    steps = np.diff(one.scan.x)
    middle = median(steps)
    return middle, float(steps.max()), int(np.sum(steps > _GAP * middle))
