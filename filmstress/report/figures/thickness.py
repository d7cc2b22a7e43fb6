"""Steps as a picture: each scan as it was read, and its heights above the substrate."""

from __future__ import annotations

import math
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from filmstress.records.step import FilmThickness, Part, Reference, Step, SteppedScan
from filmstress.report.figures.style import (
    BODY,
    CLAY,
    HEADLINE,
    INK,
    MIST,
    PAGE,
    SAND,
    SLATE,
    SMALL,
    figure_style,
)
from filmstress.report.figures.thinning import envelope
from filmstress.report.thickness import counted_steps
from filmstress.report.words import display_unit, say_estimate

Floats = NDArray[np.float64]

# More scans than these are not drawn: their steps stand in the table.
MOST_SCANS = 4
_LEFT, _TOP, _BOTTOM = 0.08, 0.87, 0.065
_BINS = 1500
_MOST_NAMED, _MOST_WITH_REST = 12, 2


def draw_thickness(found: FilmThickness) -> Figure:
    """Draw every scan with the parts that its steps were read from.

    Left the scan as it was read, right its heights above the substrate, with the line or parabola
    both levels share taken out.  Dark lines are on the film, light ones on the substrate; what
    neither was used for is thin.

    Returns
    -------
    matplotlib.figure.Figure
        A4, landscape; see `filmstress.report.figures.saving.save_figure`.
    """
    with figure_style():
        figure = Figure(figsize=PAGE)
        figure.text(
            _LEFT,
            0.955,
            f"Film thickness {say_estimate(found.thickness)}  (95 %)",
            fontsize=HEADLINE,
            fontweight="bold",
            va="top",
        )
        line = "a straight line" if found.straight else "a parabola"
        told = f"{counted_steps(found)}; both levels of a step share {line}"
        shown = found.scans[:MOST_SCANS]
        if len(shown) < len(found.scans):
            told += f"; the first {len(shown)} of {len(found.scans)} scans are drawn"
        figure.text(_LEFT, 0.905, told, fontsize=BODY, va="top")
        height = (_TOP - _BOTTOM) / len(shown)
        for place, one in enumerate(shown):
            bottom = _TOP - (place + 1) * height + 0.05
            size = (0.395, height - 0.085)
            _draw_scan(figure.add_axes((_LEFT, bottom, *size)), one, found, last=one is shown[-1])
            _draw_levelled(
                figure.add_axes((0.575, bottom, *size)), one, found, last=one is shown[-1]
            )
        note = (
            "Shaded: stretches a step was read from, film and substrate named; dashed: edges. "
            "The rest was left out: next to an edge a third of the step's width, of one edge a "
            "third of the shorter side."
        )
        figure.text(_LEFT, 0.025, "\n".join(wrap(note, 170)), fontsize=SMALL)
        return figure


def _draw_scan(ax: Axes, one: SteppedScan, found: FilmThickness, *, last: bool) -> None:
    x, z = one.scan.x, one.scan.z
    across, along = _unit(float(np.ptp(x))), _unit(float(np.ptp(z)))
    ax.plot(*_thin(x / across[1], z / along[1]), color=MIST, linewidth=0.8)
    for step in one.steps:
        for part in step.parts:
            inside = (x >= part.low) & (x <= part.high)
            _draw_part(ax, x[inside] / across[1], z[inside] / along[1], part)
    _draw_edges(ax, one, across[1])
    turned = ", turned over" if found.reference is Reference.HIGH else ""
    title = f"{_short(one.scan.source.path)}, as read{turned}"
    ax.set_title(title, loc="left", fontsize=BODY)
    ax.set_ylabel(f"height [{along[0]}]")
    if last:
        ax.set_xlabel(f"position [{across[0]}]")


def _draw_levelled(ax: Axes, one: SteppedScan, found: FilmThickness, *, last: bool) -> None:
    x, z = one.scan.x, one.scan.z
    across = _unit(float(np.ptp(x)))
    along = _unit(1.2 * found.thickness.value)
    ax.axhline(0.0, color=INK, linewidth=0.7)
    for place, step in enumerate(one.steps):
        low, high = _reach(one, place)
        near = (x >= low) & (x <= high)
        level = step.levelled(x[near], z[near])
        ax.plot(*_thin(x[near] / across[1], level / along[1]), color=MIST, linewidth=0.8)
        for part in step.parts:
            inside = (x >= max(part.low, low)) & (x <= min(part.high, high))
            if inside.any():
                height = step.levelled(x[inside], z[inside])
                _draw_part(ax, x[inside] / across[1], height / along[1], part)
        _draw_height(ax, step, across[1], along[1])
    _draw_edges(ax, one, across[1])
    thick = found.thickness.value / along[1]
    # A spike must not hide the step.
    ax.set_ylim(-0.45 * thick, 1.55 * thick)
    if len(one.steps) <= _MOST_NAMED:
        _name_parts(ax, one, across[1], thick)
    ax.set_title("levelled, from the substrate", loc="left", fontsize=BODY)
    ax.set_ylabel(f"height [{along[0]}]")
    if last:
        ax.set_xlabel(f"position [{across[0]}]")


def _draw_part(ax: Axes, x: Floats, z: Floats, part: Part) -> None:
    ax.axvspan(float(x[0]), float(x[-1]), color=SAND, alpha=0.55, linewidth=0.0, zorder=0.5)
    color = SLATE if part.on_film else CLAY
    ax.plot(*_thin(x, z), color=color, linewidth=1.3, zorder=2.5)


def _draw_height(ax: Axes, step: Step, across: float, along: float) -> None:
    """The mean height of both levels over the parts of a step."""
    for part in step.parts:
        height = step.thickness / along if part.on_film else 0.0
        ax.plot(
            [part.low / across, part.high / across],
            [height] * 2,
            color=INK,
            linewidth=1.0,
            zorder=3.0,
        )


def _draw_edges(ax: Axes, one: SteppedScan, across: float) -> None:
    for edge in one.edges:
        ax.axvline(edge / across, color=INK, linestyle=(0, (4, 3)), linewidth=0.7)


def _name_parts(ax: Axes, one: SteppedScan, across: float, thick: float) -> None:
    if len(one.steps) <= _MOST_WITH_REST:
        for step in one.steps:
            for edge in step.edges:
                for side in (-1.0, 1.0):
                    ax.text(
                        (edge + side * step.width / 6.0) / across,
                        0.5 * thick,
                        "left out",
                        ha="center",
                        va="center",
                        fontsize=SMALL,
                        rotation=90.0,
                    )
    for low, high, on_film in _stretches(one):
        ax.text(
            0.5 * (low + high) / across,
            1.25 * thick if on_film else -0.3 * thick,
            "film" if on_film else "substrate",
            zorder=6.0,
            # A spike may run through it.
            bbox={"facecolor": SAND, "edgecolor": "none", "pad": 0.6, "alpha": 0.7}
            if on_film
            else None,
            ha="center",
            va="center",
            fontsize=SMALL,
            rotation=90.0 if len(one.steps) > 4 else 0.0,
        )


def _stretches(one: SteppedScan) -> list[tuple[float, float, bool]]:
    """Stretches of either level; two steps may read the same one between them."""
    found: list[tuple[float, float, bool]] = []
    for part in sorted((p for step in one.steps for p in step.parts), key=lambda part: part.low):
        if found and found[-1][2] == part.on_film and part.low <= found[-1][1]:
            low, high, _ = found.pop()
            found.append((low, max(high, part.high), part.on_film))
        else:
            found.append((part.low, part.high, part.on_film))
    return found


def _reach(one: SteppedScan, place: int) -> tuple[float, float]:
    """Stretch that a step's own levelling is drawn over: to halfway to its neighbours."""
    step = one.steps[place]
    margin = step.width / 3.0
    low, high = step.parts[0].low - margin, step.parts[-1].high + margin
    if place:
        low = max(low, 0.5 * (one.steps[place - 1].edges[-1] + step.edges[0]))
    if place + 1 < len(one.steps):
        high = min(high, 0.5 * (step.edges[-1] + one.steps[place + 1].edges[0]))
    return low, high


def _thin(x: Floats, z: Floats) -> tuple[Floats, Floats]:
    return envelope(x, z, bins=_BINS)


def _unit(size: float) -> tuple[str, float]:
    return display_unit(size if size > 0.0 and math.isfinite(size) else 1e-6, "m")


def _short(path: str) -> str:
    text = "".join(c if c.isprintable() else " " for c in path)
    return text if len(text) <= 48 else "…" + text[-47:]
