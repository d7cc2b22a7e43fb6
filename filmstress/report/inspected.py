"""One scan by itself as plain text."""

from __future__ import annotations

import math

import numpy as np

from filmstress.records.curvature import ScanCurvature
from filmstress.records.scan import Scan
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import say_estimate, say_value
from filmstress.stats.coverage import estimate


def scan_text(scan: Scan, curvature: ScanCurvature) -> str:
    """What was read and found, for a terminal."""
    source, fit = scan.source, curvature.fit
    steps = np.diff(scan.x)
    middle, widest = float(np.median(steps)), float(steps.max())
    gaps = int(np.sum(steps > 3.0 * middle))
    found = estimate(fit.curvature, "1/m", u=fit.u, dof=fit.dof)
    lines = [
        source.path,
        row("  columns", f"{source.position_column} [{source.position_unit}], "
            f"{source.height_column} [{source.height_unit}]"),
        row("  points", f"{scan.x.size} of {source.rows} rows"),
        row("  length", f"{say_value(scan.length, 'm')}, from {say_value(float(scan.x[0]), 'm')} "
            f"to {say_value(float(scan.x[-1]), 'm')}"),
        row("  sampling", f"{say_value(middle, 'm')}"
            + (f", {gaps} gaps up to {say_value(widest, 'm')}" if gaps else "")),
        row("  heights", f"{say_value(float(np.ptp(scan.z)), 'm')} from lowest to highest"),
        row("  curvature", say_estimate(found, sign=True),
            "not distinguishable from flat" if found.holds_zero
            else "a bowl" if fit.curvature > 0 else "a dome"),
        row("  bow over the scan", say_value(fit.bow, "m")),
        row("  residuals", f"{say_value(fit.residual_rms, 'm', 3)} rms"
            + (f", correlated over {say_value(fit.correlation_length, 'm', 2)}"
               if math.isfinite(fit.correlation_length) else "")),
        row("  spikes", f"{fit.particles} particles, {fit.dropouts} wild points, "
            f"{fit.points - fit.points_used} points masked"),
        *(row("", note) for note in source.notes),
        row("  sha256", source.sha256),
    ]  # fmt: skip
    for notice in curvature.warnings:
        lines += wrapped(notice.message, f"  {notice.code}: ", WIDTH)
    return "\n".join(lines)
