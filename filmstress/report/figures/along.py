"""The panel of the stress along the scan."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from filmstress.records.quantity import Estimate
from filmstress.records.uneven import Relation, StressProfile, UnevenStress
from filmstress.report.figures.curves import Column
from filmstress.report.figures.notes import in_lines
from filmstress.report.figures.row import LABEL_PLACE, NOTE_WIDTH, beside
from filmstress.report.figures.style import CLAY, INK, SAND, SLATE, SMALL
from filmstress.report.words import display_unit, say_estimate

_MM = 1e-3
_ROOM = 0.12
# Ends of the scan are known so much worse that they would press the rest flat: a band may leave
# the panel by more than this many times the range of the values.
_WIDEST = 2.0


def draw_stress_along(
    figure: Figure,
    axes: Sequence[Axes],
    columns: Sequence[Column],
    uneven: UnevenStress,
    single: Estimate,
    *,
    among: Sequence[Column] = (),
) -> None:
    """Stress at every place with its pointwise 95 % band, the single number, the area's mean."""
    profiles = [_of(column, uneven.profiles) for column in columns]
    word, scale = display_unit(single.value, single.unit)
    name = "stress" if single.unit == "Pa" else "force per width"
    axes[0].set_ylabel(f"{name} [{word}]")
    axes[0].yaxis.set_label_coords(LABEL_PLACE, 0.5, transform=beside(figure, axes[0]))
    low, high = _limits([_of(column, uneven.profiles) for column in among or columns], single)
    for ax, column, profile in zip(axes, columns, profiles, strict=True):
        ax.set_ylim(low / scale, high / scale)
        # The column may be drawn from the other end of its azimuth.
        x = profile.x * math.copysign(1.0, math.cos(column.azimuth - profile.azimuth)) / _MM
        ax.fill_between(
            x,
            profile.low / scale,
            profile.high / scale,
            facecolor=SAND,
            edgecolor="none",
            alpha=0.6,
            zorder=1.0,
            label="_band",
        )
        for edge in (profile.low, profile.high):
            ax.plot(x, edge / scale, color=CLAY, linewidth=0.6, zorder=2.5, label="_edge")
        ax.plot(
            x, profile.value / scale, color=SLATE, linewidth=1.5, label=f"{name} along the scan"
        )
        ax.axhline(
            single.value / scale,
            color=INK,
            linewidth=1.0,
            linestyle=(0, (6, 3)),
            label="fitted parabola",
        )
        if uneven.matters and uneven.area_mean is not None:
            ax.axhline(
                uneven.area_mean.value / scale,
                color=INK,
                linewidth=1.0,
                linestyle=(0, (1, 1.5)),
                label="mean over the area",
            )
        note = in_lines(stress_note(uneven), ", ", NOTE_WIDTH // len(axes))
        ax.set_title("\n".join(note), loc="left", fontsize=SMALL, pad=4.0, linespacing=1.15)


def _of(column: Column, profiles: Sequence[StressProfile]) -> StressProfile:
    return min(profiles, key=lambda p: abs(math.sin(p.azimuth - column.azimuth)))


def _limits(profiles: Sequence[StressProfile], single: Estimate) -> tuple[float, float]:
    values = np.concatenate([p.value for p in profiles])
    lowest = min(float(values.min()), single.value)
    highest = max(float(values.max()), single.value)
    middle = np.concatenate([0.5 * (p.high - p.low) for p in profiles])
    reach = max(_WIDEST * (highest - lowest), float(np.median(middle)))
    low = max(min(float(p.low.min()) for p in profiles), lowest - reach)
    high = min(max(float(p.high.max()) for p in profiles), highest + reach)
    room = _ROOM * (high - low) or 1.0
    return low - room, high + room


def stress_note(uneven: UnevenStress) -> list[str]:
    """How the curvature was read as stress, and the mean over the area where it matters."""
    if uneven.relation is Relation.LOCAL:
        return ["Stoney's equation at every place", "with what that may leave out"]
    words = ["read as varying with the radius", "95 % at every place"]
    if uneven.matters and uneven.area_mean is not None:
        words.append(f"area's mean {say_estimate(uneven.area_mean, sign=True)}")
    return words
