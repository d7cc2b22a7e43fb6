"""An uncertainty budget as a table for reading."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Source
from filmstress.report.text import budget_cells
from filmstress.report.words import display_unit, say_number, say_pair, signed

# Where the uncertainty of an input comes from, as the reader sees it.
_SOURCES = {
    Source.STATED: "stated",
    Source.DEFAULT: "default",
    Source.TABLE: "table or theory",
    Source.DATA: "the scans",
}
# From so many degrees of freedom on, the coverage factor does not show them.
_MANY = 500


@dataclass(frozen=True, slots=True)
class BudgetTable:
    """Heads and cells in words; ``total`` is the combined standard uncertainty."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    total: str


def budget_table(budget: Budget, unit: str) -> BudgetTable:
    """The table of a budget whose output is in ``unit`` (SI)."""
    largest = max((entry.term.contribution for entry in budget.rows), default=0.0)
    word, scale = display_unit(largest, unit)
    heads = (
        "input",
        "value",
        "u",
        "distribution",
        "sensitivity",
        f"makes [{word}]",
        "share",
        "type",
        "u comes from",
        "common to",
    )
    rows = tuple(_cells(budget, largest, word, scale))
    return BudgetTable(heads, rows, say_pair(0.0, budget.u, unit)[1])


def _cells(budget: Budget, largest: float, word: str, scale: float) -> Iterator[tuple[str, ...]]:
    for entry in budget.rows:
        term = entry.term
        name, value, u, part, share, kind, common = budget_cells(entry, largest, scale)
        yield (
            name,
            value,
            u,
            _distribution(term),
            _sensitivity(term, word, scale),
            part,
            share,
            kind,
            _SOURCES[term.source],
            common or "nothing else",
        )


def _distribution(term: Term) -> str:
    known = term.dof > _MANY
    return term.shape.value if known else f"{term.shape.value}, ν = {say_number(term.dof, 2)}"


def _sensitivity(term: Term, word: str, scale: float) -> str:
    """``−0.442 MPa per nm``: in the units that the two columns beside it are in."""
    of, size = display_unit(max(abs(term.value), term.u), term.unit)
    told = signed(say_number(term.sensitivity * size / scale, 3))
    return f"{told} {word} per {of}" if of else f"{told} {word}"
