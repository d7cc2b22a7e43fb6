"""Uncertainty budgets as plain data."""

from __future__ import annotations

from filmstress.records.budget import Budget, BudgetRow
from filmstress.report.quantities import Data, number


def row_data(row: BudgetRow) -> Data:
    """One row of a budget."""
    term = row.term
    return {
        "input": term.input,
        "value": number(term.value),
        "unit": term.unit,
        "standard_uncertainty": number(term.u),
        "sensitivity": number(term.sensitivity),
        "contribution": number(term.contribution),
        "share": number(row.share),
        "evaluation": term.evaluation,
        "common_to": term.common_to,
        "distribution": term.shape.value,
        "degrees_of_freedom": number(term.dof),
        "uncertainty_source": term.source.value,
    }


def budget_data(budget: Budget) -> list[Data]:
    """The rows of a budget, largest share first."""
    return [row_data(row) for row in budget.rows]
