"""Budget terms as text, so that what results share is known years later."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

from filmstress.records.budget import Term
from filmstress.records.quantity import Shape, Source

# First words of what shares an input within one lot: another lot's may bear the very same name.
# The stage is there for its straightness as one lot's scans tell it.
_WITHIN_A_LOT = ("wafer", "lot", "scan", "one scan", "map", "stage")


def within_a_lot(common_to: str) -> bool:
    """Whether what shares an input is one lot's alone; gauge, tables and theory are not."""
    return common_to.startswith(tuple(f"{word} " for word in _WITHIN_A_LOT)) or (
        common_to in _WITHIN_A_LOT
    )


def as_text(terms: Sequence[Term]) -> str:
    """Terms as a JSON list; infinite degrees of freedom are null."""
    return json.dumps(
        [
            [
                term.input,
                term.value,
                term.unit,
                term.u,
                term.sensitivity,
                None if math.isinf(term.dof) else term.dof,
                term.shape.value,
                term.evaluation,
                term.common_to,
                term.source.value,
            ]
            for term in terms
        ],
        ensure_ascii=False,
        separators=(",", ":"),
    )


def from_text(text: str) -> tuple[Term, ...]:
    """The terms of a JSON list made by `as_text`."""
    return tuple(
        Term(
            input=name,
            value=value,
            unit=unit,
            u=u,
            sensitivity=sensitivity,
            dof=math.inf if dof is None else dof,
            shape=Shape(shape),
            evaluation=evaluation,
            common_to=common_to,
            source=Source(source),
        )
        for name, value, unit, u, sensitivity, dof, shape, evaluation, common_to, source in (
            json.loads(text)
        )
    )
