"""The small words above the panels: what the worst repeat of an azimuth must be judged by."""

from __future__ import annotations

from collections.abc import Sequence

from filmstress.records.registration import Registration
from filmstress.report.figures.curves import Column
from filmstress.report.words import say_value


def placement_note(column: Column) -> list[str]:
    """Match and offset of the scans after on the scans before."""
    found = [c.line.registration for c in column.curves if c.line.registration is not None]
    if not found:
        return ["no scan before: bow as stated"]
    words = [_match(found), _offset(found)]
    return [*words, "reversed"] if any(placed.reversed for placed in found) else words


def masked_note(column: Column) -> list[str]:
    """How many points the fit leaves out."""
    worst = max((c.line.change for c in column.curves), key=lambda fit: fit.masked_share)
    if worst.points_used == worst.points:
        return ["nothing masked"]
    return [f"{worst.points - worst.points_used} of {worst.points} points masked"]


def residual_note(column: Column) -> list[str]:
    """Size of the residuals, and whether the parabola misses the shape."""
    fits = [c.line.change for c in column.curves]
    words = [f"rms {say_value(column.worst_rms, 'm', 2)}"]
    waves = {say_value(fit.line_period, "m", 2) for fit in fits if fit.line_period is not None}
    if waves:
        words.append(f"wave of {' and '.join(sorted(waves))}")
    missed = [fit.smooth_misfit_share or 0.0 for fit in fits if fit.misfit_significant]
    if missed:
        words.append(f"not a parabola by {max(missed) * 100:.1f} %")
    if not all(fit.established for fit in fits):
        words.append("uncertainty not established")
    return words


def in_lines(parts: Sequence[str], joint: str, width: int) -> list[str]:
    """Parts joined into lines of at most ``width`` characters, broken between parts only."""
    lines: list[str] = []
    for part in parts:
        if lines and len(lines[-1]) + len(joint) + len(part) <= width:
            lines[-1] += joint + part
        else:
            lines.append(part)
    return lines


def _match(found: list[Registration]) -> str:
    worst = min(found, key=lambda placed: placed.match)
    if not worst.texture:
        return "too smooth to be matched"
    least = "least " if len(found) > 1 else ""
    return f"{least}match {worst.match:.2f}"


def _offset(found: list[Registration]) -> str:
    if not all(placed.determined for placed in found):
        return "offset not found"
    largest = max((placed.offset_m for placed in found), key=abs)
    # To 0.01 mm: what the eye can place on this page.  Adding zero takes the sign off a zero.
    shown = f"{round(largest / 1e-3, 2) + 0.0:+.2f}".replace("-", "−")
    return f"offset {shown} mm"
