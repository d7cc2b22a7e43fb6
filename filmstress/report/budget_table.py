"""An uncertainty budget as a table: everything an assessor asks of a row, in SI units."""

from __future__ import annotations

import math
from collections.abc import Iterator

from filmstress.records.result import StressResult


def budget_heads(result: StressResult) -> tuple[str, ...]:
    """Column heads; the unit of sensitivity and contribution is that of what the budget is of."""
    of = _of(result)
    return (
        "input",
        "value",
        "unit",
        "standard_uncertainty",
        "distribution",
        "degrees_of_freedom",
        f"sensitivity [{of} per unit]",
        f"contribution [{of}]",
        "share",
        "evaluation",
        "uncertainty_source",
        "common_to",
    )


def budget_rows(result: StressResult) -> Iterator[tuple[object, ...]]:
    """One row an input, largest share first; no degrees of freedom are infinitely many."""
    if result.refusal is not None:
        return
    for row in result.budget.rows:
        term = row.term
        yield (
            term.input,
            term.value,
            term.unit,
            term.u,
            term.shape.value,
            None if math.isinf(term.dof) else term.dof,
            term.sensitivity,
            term.contribution,
            row.share,
            term.evaluation,
            term.source.value,
            term.common_to,
        )


def _of(result: StressResult) -> str:
    return "N/m" if result.stress is None else "Pa"
