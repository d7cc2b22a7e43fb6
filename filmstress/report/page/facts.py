"""What the page says of a lot as a whole."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from filmstress.records.lot import LotResult, LotSpec, WaferOutcome
from filmstress.report.figures.lot import draw_lot_parts
from filmstress.report.lot import grouped_notices, specification_words, statistics_rows
from filmstress.report.lot_risk import risk_words, sample_words
from filmstress.report.page.inline import inline_svg

Row = tuple[str, ...]

# More wafers than these are not named with a warning: their own parts carry it.
_MOST_LISTED = 12


@dataclass(frozen=True, slots=True)
class Decided:
    """The decision in large words."""

    kind: str
    word: str
    reasons: Sequence[str]


_WORDS = {
    "accepted": "Accepted",
    "rejected": "Rejected",
    "undecided": "Undecided",
    None: "No decision",
}


def decision_of(result: LotResult) -> Decided:
    """The decision, and its reasons one by one."""
    reasons = [part for part in result.reason.split("; ") if part]
    return Decided(result.decision or "none", _WORDS[result.decision], reasons)


def lot_rows(result: LotResult) -> Iterator[Row]:
    """Facts about the lot: label and text."""
    lot, statistics = result.lot, result.statistics
    yield "lot", lot.lot
    yield "recipe", lot.recipe or "not stated"
    yield "specification", ", ".join(specification_words(lot.specification)) or "none stated"
    counts = [f"{statistics.measured} measured", f"{statistics.refused} refused"]
    witnesses = sum(one.is_witness for one in result.wafers)
    if witnesses:
        counts.append(f"{witnesses} witness{'es' if witnesses > 1 else ''} (never coated)")
    yield "wafers", ", ".join(counts)
    yield from statistics_rows(result)


def outlook(result: LotResult) -> list[str]:
    """What the decision risks, and what the wafers say of those not measured."""
    return [*risk_words(result), *sample_words(result)]


@dataclass(frozen=True, slots=True)
class Remark:
    """A warning or refusal, and the wafers that it is about."""

    code: str
    message: str
    who: str


def remarks(result: LotResult) -> list[Remark]:
    """Everything that was refused, warned of or taken as given, each once."""
    found = []
    for (code, message), ids in grouped_notices(result.wafers).items():
        if len(ids) == len(result.wafers) > 1:
            who = "all wafers"
        else:
            listed = ids if len(ids) <= _MOST_LISTED else [*ids[: _MOST_LISTED - 1], "…"]
            who = f"{_count(len(ids))} {', '.join(listed)}"
        found.append(Remark(code, message, who))
    return found


def _count(number: int) -> str:
    return "wafer" if number == 1 else f"{number} wafers:"


def deposition_rows(lot: LotSpec) -> list[Row]:
    """How the film was made, as written."""
    # A label of ours that begins with a space belongs to the row above; a user's never does.
    return [
        (parameter.name.replace("_", " ").strip(), parameter.text) for parameter in lot.deposition
    ]


def lot_files(lot: LotSpec, record: tuple[str, str] | None) -> list[Row]:
    """The files that stated the lot, and the record of this run: what, path, SHA-256."""
    files: list[Row] = [("lot file", lot.path, lot.sha256)]
    if lot.table is not None:
        files.append(("wafer table", *lot.table))
    return files if record is None else [*files, ("record", *record)]


def lot_figures(result: LotResult) -> list[Markup]:
    """Every wafer's stress with its interval against the limits; empty where none has one."""
    if all(one.stress is None for one in result.wafers):
        return []
    figures = draw_lot_parts(result)
    told = (
        "One row a wafer: a mark at its stress on a line from end to end of its 95 % interval. "
        "The same numbers stand in the table of wafers."
    )
    return [
        inline_svg(
            figure,
            key=f"lot-figure-{place}",
            title=f"Stress of every wafer of lot {result.lot.lot}"
            + (f", part {place + 1} of {len(figures)}" if len(figures) > 1 else ""),
            told=told,
        )
        for place, figure in enumerate(figures)
    ]


def editions(wafers: Iterable[WaferOutcome]) -> tuple[list[str], list[str]]:
    """Editions of the substrate table that were used, and the sources of the constants."""
    used = [one.result.substrate for one in wafers if one.result is not None]
    found = dict.fromkeys(substrate.edition for substrate in used if substrate.edition)
    sources = dict.fromkeys(source for substrate in used for source in substrate.sources)
    return list(found), list(sources)
