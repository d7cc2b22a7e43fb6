"""The words around the panels: headline, subject, notices, the list of results."""

from __future__ import annotations

import math
import textwrap
from collections import Counter
from collections.abc import Iterator

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from filmstress.records.result import StressResult
from filmstress.report.figures.notes import in_lines
from filmstress.report.figures.style import BODY, HEADLINE, INK, PAPER, SAND, SMALL
from filmstress.report.notices import ASSUMED
from filmstress.report.words import display_unit, printable, say_estimate
from filmstress.stats.rounding import significant

LEFT = 0.07
_LINE_OF_BODY = 140
_LINE_OF_SMALL = 160
_LINE_OF_CODES = 125
_MOST_DIRECTIONS = 4


def headline(result: StressResult) -> str:
    """The result in one line of words."""
    if result.refusal is not None:
        return "No stress is stated"
    told = result.stress or result.force_per_width
    if told is None:
        return "Neither stress nor force per width could be found"
    name = "film stress" if result.stress is not None else "force per width"
    coverage = "" if told.expanded is None else f"  ({told.p:.0%})".replace("%", " %")
    sense = result.sense[0].upper() + result.sense[1:]
    return f"{sense}:  {name} {say_estimate(told, sign=True)}{coverage}"


def draw_heading(figure: Figure, result: StressResult, *, remark: str) -> float:
    """Headline, what it means, what was measured, and the notices by their codes.

    Parameters
    ----------
    figure : Figure
    result : StressResult
    remark : str
        About the figure itself; follows what was measured.

    Returns
    -------
    float
        Where the next thing may begin, as a share of the page's height.
    """
    refused = result.refusal is not None
    figure.text(
        LEFT,
        0.97,
        headline(result),
        fontsize=HEADLINE,
        fontweight="bold",
        va="top",
        color=PAPER if refused else INK,
        bbox={"facecolor": INK, "edgecolor": INK, "pad": 5.0} if refused else None,
    )
    place = 0.926 if refused else 0.934
    for line in _meaning(result):
        figure.text(LEFT, place, line, fontsize=BODY, va="top")
        place -= 0.0195
    place -= 0.007
    told = f"{result.wafer.id}  ·  {subject(result)}"
    told = printable(told, _LINE_OF_SMALL - len(remark))
    figure.text(LEFT, place, told + remark, fontsize=8.0, va="top")
    place -= 0.0255
    for words, serious in _notices(result):
        figure.text(
            LEFT + 0.003,
            place,
            words,
            fontsize=SMALL + 0.5,
            va="top",
            color=PAPER if serious else INK,
            fontweight="bold" if serious else "normal",
            bbox={"facecolor": INK if serious else SAND, "edgecolor": "none", "pad": 2.5},
        )
        place -= 0.0235
    return place


def draw_results(ax: Axes, result: StressResult) -> None:
    """The other results as a small list."""
    ax.set_axis_off()
    ax.set_title("Other results", loc="left", fontsize=BODY, fontweight="bold")
    results = list(_results(result))
    for place, (name, value) in enumerate(results):
        height = 0.98 - place * min(0.1, 0.98 / len(results))
        ax.text(0.0, height, name, va="top", fontsize=SMALL, transform=ax.transAxes)
        ax.text(1.0, height, value, va="top", ha="right", fontsize=SMALL, transform=ax.transAxes)


def azimuth_words(azimuth: float) -> str:
    """``0 deg``."""
    return f"{math.degrees(azimuth):.4g} deg"


def _meaning(result: StressResult) -> list[str]:
    if result.refusal is not None:
        told = f"{result.refusal.code}: {result.refusal.message}"
        return textwrap.wrap(told, _LINE_OF_BODY, max_lines=2, placeholder=" …")
    if result.stress is None:
        return ["the film's thickness is not stated, so there is no stress; tension is positive"]
    return ["the mean stress that the film now carries; tension is positive"]


def subject(result: StressResult) -> str:
    """Film and substrate: what was measured."""
    wafer, film = result.wafer, result.wafer.film
    coat = film.material or "film"
    if film.thickness is not None:
        coat += f" {_length(film.thickness.value)}"
    base = f"{result.substrate.label} {_length(wafer.substrate.thickness.value)}"
    side = "" if film.face.value == "up" else ", on the face not scanned"
    return f"{coat} on {base}{side}"


def _length(length_m: float) -> str:
    word, scale = display_unit(length_m, "m")
    return f"{length_m / scale:.4g} {word}"


def _notices(result: StressResult) -> Iterator[tuple[str, bool]]:
    counts = Counter(notice.code for notice in result.warnings)
    assumed = [_times(code.value, n) for code, n in counts.items() if code in ASSUMED]
    serious = [_times(code.value, n) for code, n in counts.items() if code not in ASSUMED]
    for head, codes, look in (("Look at:", serious, True), ("Taken as given:", assumed, False)):
        for line in in_lines(codes, "  ·  ", _LINE_OF_CODES):
            yield f"{head}  {line}", look
    if not counts:
        yield "No warnings", False


def _times(code: str, count: int) -> str:
    return code if count == 1 else f"{code} ×{count}"


def _results(result: StressResult) -> Iterator[tuple[str, str]]:
    along = result.stress_by_direction
    if len(along) > _MOST_DIRECTIONS:
        along = tuple(pick(along, key=lambda entry: entry.stress.value) for pick in (min, max))
    if len(along) > 1:
        for entry in along:
            yield f"along {azimuth_words(entry.azimuth)}", say_estimate(entry.stress, sign=True)
    if result.stress_stoney is not None:
        yield "Stoney's plain equation", say_estimate(result.stress_stoney, sign=True)
    if result.stress_mismatch is not None:
        yield "mismatch stress", say_estimate(result.stress_mismatch, sign=True)
    if result.stress is not None:
        yield "force per width", say_estimate(result.force_per_width, sign=True)
    yield "curvature change", say_estimate(result.curvature_change, sign=True)
    yield "curvature before", say_estimate(result.curvature_pre, sign=True)
    yield "curvature after", say_estimate(result.curvature_post, sign=True)
    yield "radius of the change", _radius(result)
    length = _length(result.lines[0].change.length)
    yield f"bow change, {length}", say_estimate(result.bow_change, sign=True)


def _radius(result: StressResult) -> str:
    radius = result.radius
    if radius is None or radius.low is None or radius.high is None:
        return "the interval includes flat"
    low, high = sorted((radius.low, radius.high))
    told, least, most = (significant(end, 4).replace("-", "−") for end in (radius.value, low, high))
    return f"{told} m  ({least} to {most})"
