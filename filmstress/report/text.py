"""A wafer's result as plain text for a terminal."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence

from filmstress.records.budget import Budget, BudgetRow
from filmstress.records.curvature import CurvatureChange, CurvatureFit
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.result import StressResult
from filmstress.records.scan import ScanSource
from filmstress.report.columns import columns
from filmstress.report.propagation import monte_carlo_lines, told_interval
from filmstress.report.settings import setting_rows
from filmstress.report.uneven_words import uneven_rows
from filmstress.report.weighing import weighing_rows, weighing_sentences
from filmstress.report.words import (
    display_unit,
    minus,
    say_coverage,
    say_estimate,
    say_number,
    say_pair,
    say_plus_minus,
    say_value,
)
from filmstress.stats.budget import most_worth_improving
from filmstress.stats.rounding import significant

Cells = tuple[str, str, str]

WIDTH = 96
_LABEL, _NOTE = 30, 62
_LONGEST_LEAD = 32

_WORDS = frozenset({"input", "type", "shared by"})
# Below this an angle is not uncertain [rad].
_NO_ANGLE = 1e-9
# Below this share of the largest contribution only a bound is printed.
_NEGLIGIBLE = 1e-4

CAUTION = (
    "A highly stressed wafer can shatter: follow the site's rules for handling it. The release of "
    "a lot is decided by the site's own procedure; this number is one input to it."
)


def to_text(result: StressResult) -> str:
    """Everything about one wafer's result, for people.

    Parameters
    ----------
    result : StressResult

    Returns
    -------
    str
        Several lines, without a newline at the end.
    """
    blocks = [
        list(_headline(result)),
        list(_quantities(result)),
        list(_weighing(result)),
        list(_data(result)),
        list(_told_budget(result)),
        [row(*line) for line in monte_carlo_lines(result)],
        list(_inputs(result)),
        list(notice_lines(result.warnings)),
        list(wrapped(CAUTION, "", WIDTH)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def cells(label: str, text: str, note: str = "") -> Cells:
    """What a labelled line is made of; a label that begins with spaces belongs to the one above."""
    return label, text, note


def row(label: str, text: str, note: str = "") -> str:
    """One labelled line."""
    line = f"{label:<{_LABEL - 1}} {text}"
    return f"{line:<{_NOTE}}  {note}".rstrip() if note else line


_HYPHEN_MINUS = re.compile(r"(?<![^\s(])-(?=[0-9])")


def true_minus(text: str) -> str:
    """A sentence with the minus of its numbers as tables have it."""
    return _HYPHEN_MINUS.sub("−", text)


def wrapped(text: str, lead: str, width: int) -> Iterator[str]:
    """A sentence broken into lines behind a lead; later lines are indented to match a short one.

    A no-break space holds two words together and is written as a plain one; the minus of a number
    is a true one, as it is in tables.
    """
    text = true_minus(text).replace(" %", "\u00a0%")
    line, indent = lead, " " * (len(lead) if len(lead) <= _LONGEST_LEAD else 6)
    empty = True
    for word in filter(None, text.replace("\n", " ").split(" ")):
        if not empty and len(line) + 1 + len(word) > width:
            yield line
            line, empty = indent, True
        line += (word if empty else f" {word}").replace("\u00a0", " ")
        empty = False
    yield line


def _headline(result: StressResult) -> Iterator[str]:
    if result.refusal is not None:
        yield "No stress is stated."
        yield from wrapped(result.refusal.message, f"  {result.refusal.code}: ", WIDTH)
        return
    told = result.stress or result.force_per_width
    if told is None:
        return
    name = "Film stress" if result.stress else "Force per width"
    yield f"{name}  {say_estimate(told, sign=True)}   {result.sense}"
    yield f"  {told_interval(result, told) or say_coverage(told)}"
    if result.stress is not None:
        assumed = any(n.code is WarningCode.EQUIBIAXIAL_ASSUMED for n in result.warnings)
        equal = ", taken alike in all directions" if assumed and len(result.lines) == 1 else ""
        told_of = f"the mean stress that the film now carries{equal}; tension is positive"
        yield from wrapped(told_of, "  ", WIDTH)
    else:
        yield "  the film's thickness is not stated, so there is no stress; tension is positive"


def _quantities(result: StressResult) -> Iterator[str]:
    for label, text, note in quantity_rows(result):
        line = row(label, text, note)
        whole = note or len(line) <= WIDTH
        yield from [line] if whole else wrapped(text, row(label, ""), WIDTH)


def quantity_rows(result: StressResult) -> Iterator[Cells]:
    """Everything found beside the headline: label, text and note of each."""
    if len(result.stress_by_direction) > 1:
        for entry in result.stress_by_direction:
            label = f"stress along {math.degrees(entry.azimuth):.4g} deg"
            yield cells(label, say_estimate(entry.stress, sign=True))
    if result.principal is not None:
        high, low, axis = result.principal.high, result.principal.low, result.principal.axis
        told = f"{say_estimate(high, sign=True)} and {say_estimate(low, sign=True)}"
        yield cells("principal stresses", told)
        if axis.u is not None:
            # Two azimuths leave no doubt of the axis, and no more than a rounding error of it.
            sure = axis.u < _NO_ANGLE
            told = say_value(axis.value, "rad") if sure else say_estimate(axis)
            yield cells("  the first along", told)
    yield from uneven_rows(result)
    if result.stress_stoney is not None:
        yield cells(
            "Stoney's plain equation",
            say_estimate(result.stress_stoney, sign=True),
            "for comparison with a spreadsheet",
        )
    if result.stress_mismatch is not None:
        yield cells(
            "mismatch stress",
            say_estimate(result.stress_mismatch, sign=True),
            "what a rigid substrate would see",
        )
    if result.stress is not None:
        yield cells("force per width", say_estimate(result.force_per_width, sign=True))
    change = result.curvature_change
    shape = "" if change.holds_zero else ("a bowl" if change.value > 0 else "a dome")
    yield cells("change of curvature", say_estimate(change, sign=True), shape)
    yield cells("  before", say_estimate(result.curvature_pre, sign=True))
    yield cells("  after", say_estimate(result.curvature_post, sign=True))
    yield cells("radius of the change", _radius(result))
    length = result.lines[0].change.length
    yield cells(
        "change of bow",
        say_estimate(result.bow_change, sign=True),
        f"over the scan's {say_value(length, 'm')}",
    )


def _weighing(result: StressResult) -> Iterator[str]:
    rows = list(weighing_rows(result))
    if rows:
        yield "By the wafer's own weight"
        yield from (row(*told) for told in rows)
        for sentence in weighing_sentences(result):
            yield from wrapped(sentence, "  ", WIDTH)


def _radius(result: StressResult) -> str:
    radius = result.radius
    if radius is None or radius.low is None or radius.high is None:
        return "not stated: the interval includes flat"
    low, high = sorted((radius.low, radius.high))
    told, least, most = (minus(significant(end, 4)) for end in (radius.value, low, high))
    return f"{told} m  ({least} m to {most} m)"


def _data(result: StressResult) -> Iterator[str]:
    yield "Data"
    for state, source in result.files:
        yield from source_lines(state, source)
    for line in result.lines:
        if len(result.lines) > 1:
            yield f"  line at {math.degrees(line.azimuth):.4g} deg"
        yield from (row(*one) for one in line_rows(line))


def source_lines(state: str, source: ScanSource) -> Iterator[str]:
    """How one file was read."""
    yield row(
        f"  {state}",
        f"{source.path}: {source.rows} rows, {source.position_column} [{source.position_unit}], "
        f"{source.height_column} [{source.height_unit}]",
    )
    for left in source.left_out:
        yield row("", left.words)
    for note in source.notes:
        yield row("", note)


def line_rows(line: CurvatureChange) -> Iterator[Cells]:
    """How a line's scans were used and fitted: label and text of each."""
    if line.pre is not None:
        yield cells("  before, alone", _masked(line.pre.fit))
    yield cells("  after, alone", _masked(line.post.fit))
    fit = line.change
    yield cells("  difference" if line.pre else "  after less bare bow", _masked(fit))
    found = line.registration
    if found is not None:
        if found.determined:
            place = f"offset {say_plus_minus(found.offset_m, found.u_offset_m, 'm')}"
        else:
            place = (
                f"offset not fixed by the scans, taken as 0 ± {say_value(found.u_offset_m, 'm', 2)}"
            )
        turned = ", taken from the other end" if found.reversed else ""
        yield cells(
            "  after laid on before",
            f"{place} (standard uncertainty), match {found.match:.2f}{turned}",
        )
    white = f"{fit.white_share:.0%}".replace("%", " %")
    slow = f"of its means over a fiftieth, {white} uncorrelated"
    if math.isfinite(fit.correlation_length):
        slow += f", the rest over {say_value(fit.correlation_length, 'm', 2)}"
    yield cells("  residuals", f"{say_value(fit.residual_rms, 'm', 2)} rms")
    yield cells("", slow)
    if line.proof is not None:
        share = f"{line.proof.coverage:.1%}".replace("%", " %")
        yield cells(
            "  proof of the interval",
            f"held the truth in {line.proof.held} of {line.proof.copies} copies ({share})",
        )


def _masked(fit: CurvatureFit) -> str:
    text = f"{fit.points_used} of {fit.points} points used"
    parts = []
    if fit.particles:
        parts.append(f"{fit.particles} particle{'s' if fit.particles > 1 else ''}")
    if fit.dropouts:
        parts.append(f"{fit.dropouts} wild point{'s' if fit.dropouts > 1 else ''}")
    return text + (f", masked: {' and '.join(parts)}" if parts else "")


def _told_budget(result: StressResult) -> Iterator[str]:
    # A refused result has no number for its budget to be about.
    if result.refusal is None:
        yield from budget_lines(result.budget, "N/m" if result.stress is None else "Pa")


def budget_lines(budget: Budget, unit: str) -> Iterator[str]:
    """A budget as a table, and what is most worth improving; ``unit`` is that of the output."""
    largest = max((entry.term.contribution for entry in budget.rows), default=0.0)
    word, scale = display_unit(largest, unit)
    yield f"Uncertainty budget: standard uncertainty u of each input, and what it makes in {word}"
    heads = ("input", "value", "u", f"in {word}", "share", "type", "shared by")
    rows = [heads, *(budget_cells(entry, largest, scale) for entry in budget.rows)]
    numbers = [place for place, head in enumerate(heads) if head not in _WORDS]
    yield from columns(rows, right=numbers, gap=2)
    worst = most_worth_improving(budget)
    if worst is not None:
        yield from wrapped(
            f"{worst.term.input} ({worst.share * 100:.0f} % of the variance)",
            "  most worth improving: ",
            WIDTH,
        )


def budget_cells(entry: BudgetRow, largest: float, scale: float) -> tuple[str, ...]:
    """Input, value, u, contribution, share, evaluation, common to: one row in words."""
    term = entry.term
    part = significant(term.contribution, 2, scale=scale)
    if term.contribution < _NEGLIGIBLE * largest:
        part = f"< {say_number(_NEGLIGIBLE * largest, 1, scale)}"
    share = f"{entry.share * 100:.1f} %"
    return (
        term.input,
        *say_pair(term.value, term.u, term.unit),
        part,
        share,
        term.evaluation,
        term.common_to,
    )


def _inputs(result: StressResult) -> Iterator[str]:
    used = result.substrate
    yield "Inputs as read"
    modulus = say_value(used.modulus.value, "Pa")
    if used.modulus.u is not None:
        modulus = say_plus_minus(used.modulus.value, used.modulus.u, "Pa")
    edition = f", table edition {used.edition}" if used.edition else ""
    yield row("  substrate", f"{used.label}: biaxial modulus {modulus}{edition}")
    for label, text in setting_rows(result.wafer):
        yield row(f"  {label}", text)


def notice_lines(notices: Sequence[Notice]) -> Iterator[str]:
    """Defaults first, then warnings."""
    defaults = [n for n in notices if n.code is WarningCode.DEFAULT_USED]
    others = [n for n in notices if n.code is not WarningCode.DEFAULT_USED]
    if defaults:
        yield "Defaults used"
        for notice in defaults:
            yield from wrapped(notice.message, "  - ", WIDTH)
    if others:
        if defaults:
            yield ""
        yield "Warnings"
        for notice in others:
            yield from wrapped(notice.message, f"  {notice.code}: ", WIDTH)
