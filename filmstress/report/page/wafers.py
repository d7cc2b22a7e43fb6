"""One wafer for the page: everything in words, ready to be laid out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from filmstress.records.lot import Specification, WaferOutcome
from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.records.scan import ScanSource
from filmstress.report.figures.along import stress_note
from filmstress.report.figures.curves import Column, columns_of, worst_columns
from filmstress.report.figures.heading import azimuth_words, subject
from filmstress.report.figures.notes import masked_note, placement_note, residual_note
from filmstress.report.figures.upright import along_of, draw_upright
from filmstress.report.lot_risk import probability_words
from filmstress.report.notices import taken_as_given, to_look_at
from filmstress.report.page.budgets import BudgetTable, budget_table
from filmstress.report.page.inline import inline_svg
from filmstress.report.propagation import monte_carlo_lines, told_interval
from filmstress.report.settings import setting_rows
from filmstress.report.text import line_rows, quantity_rows
from filmstress.report.verdict import Verdict, verdict
from filmstress.report.words import (
    say_coverage,
    say_estimate,
    say_plus_minus,
    say_value,
)
from filmstress.stats.budget import most_worth_improving

Row = tuple[str, ...]

# The stress on a piece of film, beside the word and never in its place.
_ARROWS = {"tensile": "←→", "compressive": "→←"}
_STATES = {"pre": "before", "post": "after"}
MARKS = {
    Verdict.WITHIN: "●",
    Verdict.UNDECIDED: "○",
    Verdict.OUTSIDE: "✕",
    Verdict.REFUSED: "—",
    Verdict.WITNESS: "□",
    Verdict.NOT_JUDGED: "·",
}


@dataclass(frozen=True, slots=True)
class Drawing:
    """One figure with the words beneath it."""

    svg: Markup
    head: str
    caption: str


@dataclass(frozen=True, slots=True)
class FileRow:
    """One file as it was read."""

    state: str
    path: str
    read: str
    sha256: str


@dataclass(frozen=True, slots=True)
class WaferPart:
    """All that the page says of one wafer.

    Attributes
    ----------
    key : str
        For anchors and ids; from its place, never from its name.
    folded : bool
        Whether there is nothing to look at in a lot too large to be printed whole.
    id, name, subject : str
        What the user calls it; the same as it stands in a sentence; its film and substrate.
    told, exact : str
        Stress (or force per width) with its expanded uncertainty in words; its value in SI.
    headline : str
        The same as a sentence begins.
    sense, arrows : str
    mark, verdict : str
        What became of it; both empty where there is nothing to decide.
    probability, exact_probability : str
    coverage, meaning : str
    refusal : Notice or None
    codes : sequence of str
        Of the refusal and of what is to be looked at, each once.
    look_at, given : sequence of Notice
    results : sequence of (label, text, note)
    drawings : sequence of Drawing
    budget : BudgetTable or None
    drawn_many : sequence of (label, text)
        What Monte Carlo found, where it ran and did not merely confirm.
    worst : str
        The input most worth improving.
    lines : sequence of (azimuth, rows)
    inputs : sequence of (label, text)
    files : sequence of FileRow
    """

    key: str
    folded: bool
    id: str
    name: str
    subject: str
    told: str
    exact: str
    headline: str
    sense: str
    arrows: str
    mark: str
    verdict: str
    probability: str
    exact_probability: str
    coverage: str
    meaning: str
    refusal: Notice | None
    codes: Sequence[str]
    look_at: Sequence[Notice]
    given: Sequence[Notice]
    results: Sequence[Row]
    drawings: Sequence[Drawing]
    budget: BudgetTable | None
    drawn_many: Sequence[Row]
    worst: str
    lines: Sequence[tuple[str, Sequence[Row]]]
    inputs: Sequence[Row]
    files: Sequence[FileRow]


def wafer_part(
    outcome: WaferOutcome,
    specification: Specification | None,
    *,
    key: str,
    name: str,
    drawn: bool,
    folded: bool = False,
) -> WaferPart:
    """One wafer in words, with its figures where they are wanted."""
    result, kind = outcome.result, verdict(outcome, specification)
    found = None if result is None or outcome.refusal else result.stress or result.force_per_width
    headline, meaning = _headline(result, found)
    probability = outcome.conformance_probability
    notices = () if result is None else result.warnings
    judged = specification is not None or kind in {Verdict.REFUSED, Verdict.WITNESS}
    sense = "" if result is None or found is None else result.sense
    return WaferPart(
        key=key,
        folded=folded,
        id=outcome.id,
        name=name,
        subject="" if result is None else subject(result),
        told="none" if found is None else say_estimate(found, sign=True),
        exact="" if found is None else repr(found.value),
        headline=headline,
        sense=sense,
        arrows=_ARROWS.get(sense, ""),
        mark=MARKS[kind] if judged else "",
        verdict=kind.value if judged else "",
        probability="" if probability is None else probability_words(probability),
        exact_probability="" if probability is None else repr(probability),
        coverage=_coverage(result, found),
        meaning=meaning,
        refusal=outcome.refusal,
        codes=_codes(outcome),
        look_at=to_look_at(notices),
        given=taken_as_given(notices),
        results=[] if result is None else list(quantity_rows(result)),
        drawings=list(_drawings(result, key, name)) if drawn and result is not None else [],
        budget=_budget(result, found),
        drawn_many=[] if result is None else list(monte_carlo_lines(result)),
        worst=_worst(result, found),
        lines=[] if result is None else list(_lines(result)),
        inputs=list(_inputs(outcome)),
        files=[] if result is None else [_file(*entry) for entry in result.files],
    )


def _coverage(result: StressResult | None, found: Estimate | None) -> str:
    if result is None or found is None:
        return ""
    return told_interval(result, found) or say_coverage(found)


def _codes(outcome: WaferOutcome) -> list[str]:
    warnings = () if outcome.result is None else to_look_at(outcome.result.warnings)
    found = [notice for notice in (outcome.refusal, *warnings) if notice is not None]
    return list(dict.fromkeys(notice.code.value for notice in found))


def _headline(result: StressResult | None, found: Estimate | None) -> tuple[str, str]:
    if result is None or found is None:
        return "No stress is stated", ""
    if result.stress is None:
        return (
            "Force per width",
            "The film's thickness is not stated, so there is no stress; tension is positive.",
        )
    return "Film stress", "The mean stress that the film now carries; tension is positive."


def _budget(result: StressResult | None, found: Estimate | None) -> BudgetTable | None:
    if result is None or found is None or not result.budget.rows:
        return None
    return budget_table(result.budget, found.unit)


def _worst(result: StressResult | None, found: Estimate | None) -> str:
    worst = None if result is None or found is None else most_worth_improving(result.budget)
    return (
        "" if worst is None else f"{worst.term.input} ({worst.share * 100:.0f} % of the variance)"
    )


def _lines(result: StressResult) -> Iterator[tuple[str, Sequence[Row]]]:
    for line in result.lines:
        rows = [(label.strip(), text) for label, text, _ in line_rows(line)]
        yield azimuth_words(line.azimuth), rows


def _inputs(outcome: WaferOutcome) -> Iterator[Row]:
    result = outcome.result
    if result is None:
        yield "substrate", outcome.wafer.substrate.material or "stated constants"
    else:
        modulus = result.substrate.modulus
        told = say_value(modulus.value, "Pa")
        if modulus.u is not None:
            told = f"{say_plus_minus(modulus.value, modulus.u, 'Pa')} (standard uncertainty)"
        yield "substrate", f"{result.substrate.label}, biaxial modulus {told}"
    yield from setting_rows(outcome.wafer)


def _file(state: str, source: ScanSource) -> FileRow:
    read = (
        f"{source.rows} rows, {source.position_column} [{source.position_unit}], "
        f"{source.height_column} [{source.height_unit}]"
    )
    left = [one.words for one in source.left_out]
    return FileRow(
        _STATES.get(state, state),
        source.path,
        "; ".join([read, *left, *source.notes]),
        source.sha256,
    )


def _drawings(result: StressResult, key: str, name: str) -> Iterator[Drawing]:
    found = columns_of([line for line in result.lines if line.difference.x.size])
    columns = worst_columns(found)
    along = along_of(result)
    for place, column in enumerate(columns):
        notes = [*placement_note(column), *masked_note(column), *residual_note(column)]
        if along is not None:
            notes += stress_note(along.uneven)
        yield Drawing(
            inline_svg(
                draw_upright(column, columns, along),
                key=f"{key}-figure-{place}",
                title=f"{name}, azimuth {azimuth_words(column.azimuth)}",
                told=_told(column, along is not None),
            ),
            _head(column),
            "; ".join(notes),
        )


def _head(column: Column) -> str:
    repeats = len(column.curves)
    return f"azimuth {azimuth_words(column.azimuth)}" + (
        f", {repeats} repeats" if repeats > 1 else ""
    )


def _told(column: Column, along: bool) -> str:
    fit = column.curves[0].line.change
    shape = "a bowl" if fit.curvature > 0.0 else "a dome"
    return (
        f"{'Four' if along else 'Three'} panels over the position on the wafer: the heights "
        "before and after; their "
        f"difference, {shape} of {say_value(abs(fit.bow), 'm', 3)}, with the fitted parabola and "
        f"its 95 % band; the residuals, {say_value(column.worst_rms, 'm', 2)} rms"
        + ("; and the stress along the scan with its 95 % band." if along else ".")
    )
