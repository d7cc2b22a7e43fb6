"""Budget terms as text, so that what results share is known years later."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

from filmstress.records.budget import Term
from filmstress.records.quantity import Shape, Source


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
