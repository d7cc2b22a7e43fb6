"""Curvatures, radius and bow of a wafer: means over its directions, with intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from filmstress.measure.film import Film, gauge_terms
from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Estimate
from filmstress.stats.budget import combine, term
from filmstress.stats.coverage import estimate


def curvature_outputs(film: Film) -> tuple[Estimate, Estimate, Estimate, Estimate]:
    """Curvature change, curvature before and after, bow change: means over the directions."""
    n = len(film.directions)
    scan = film.wafer.lines[0].states[-1].scan

    def with_scales(value: float, terms: Sequence[Term]) -> Estimate:
        return as_estimate(value, "1/m", combine([*terms, *gauge_terms(scan, value)]))

    change = float(film.changes.mean())
    terms = [
        replace(part, sensitivity=part.sensitivity / n)
        for direction in film.directions
        for part in direction.terms
    ]
    lines = [line for direction in film.directions for line in direction.lines]

    def state(found: Sequence[tuple[float, float, float]]) -> Estimate:
        mean = math.fsum(value for value, _, _ in found) / len(found)
        own = [
            Term(
                input=f"curvature fit {i}",
                value=value,
                unit="1/m",
                u=u,
                sensitivity=1.0 / len(found),
                dof=dof,
                evaluation="A",
            )
            for i, (value, u, dof) in enumerate(found)
        ]
        return with_scales(mean, own)

    pre = state(
        [
            (
                line.pre_curvature,
                line.pre_u,
                math.inf if line.pre is None else line.pre.fit.dof,
            )
            for line in lines
        ]
    )
    post = state([(line.post.fit.curvature, line.post.fit.u, line.post.fit.dof) for line in lines])
    curvature = with_scales(change, terms)
    arm = math.fsum(line.change.length**2 for line in lines) / len(lines) / 8.0
    bow_terms = [replace(part, sensitivity=part.sensitivity * arm) for part in terms]
    bow = change * arm
    budget = combine([*bow_terms, term("height scale", scan.height_scale, bow)])
    return curvature, pre, post, as_estimate(bow, "m", budget)


def as_estimate(value: float, unit: str, budget: Budget) -> Estimate:
    """An output with the interval that its budget supports."""
    return estimate(value, unit, u=budget.u, dof=budget.dof)


def radius_of(curvature: Estimate) -> Estimate | None:
    """1 / curvature [m], or None where the interval of the curvature includes flat."""
    if (
        curvature.u is None
        or curvature.holds_zero
        or curvature.low is None
        or curvature.high is None
    ):
        return None
    return Estimate(
        value=1.0 / curvature.value,
        unit="m",
        u=curvature.u / curvature.value**2,
        dof=curvature.dof,
        k=curvature.k,
        p=curvature.p,
        low=1.0 / curvature.high,
        high=1.0 / curvature.low,
    )
