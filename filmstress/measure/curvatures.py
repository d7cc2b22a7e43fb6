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
    pre = with_scales(*_of_state(film, "pre"))
    post = with_scales(*_of_state(film, "post"))
    doubts = [
        replace(part, sensitivity=part.sensitivity / n)
        for direction in film.directions
        for part in direction.corrections
        if part.input.startswith("support and gravity")
    ]
    terms += doubts
    curvature = with_scales(change, terms)
    arm = math.fsum(line.change.length**2 for line in lines) / len(lines) / 8.0
    bow_terms = [replace(part, sensitivity=part.sensitivity * arm) for part in terms]
    bow = change * arm
    budget = combine([*bow_terms, term("height scale", scan.height_scale, bow)])
    return curvature, pre, post, as_estimate(bow, "m", budget)


def _of_state(film: Film, state: str) -> tuple[float, list[Term]]:
    """Mean curvature of one state over the directions, and its terms without the scales."""
    value, terms = 0.0, []
    for direction in film.directions:
        share = 1.0 / len(direction.lines) / len(film.directions)
        for number, line in zip(direction.numbers, direction.lines, strict=True):
            scan = line.pre if state == "pre" else line.post
            curvature = line.pre_curvature if scan is None else scan.fit.curvature
            value += share * curvature
            spec = film.wafer.lines[number].states[0 if state == "pre" else -1].scan
            drift = 0.0 if scan is None else spec.bow_repeatability.u or 0.0
            own = line.pre_u if scan is None else scan.fit.u
            terms.append(
                Term(
                    input=f"curvature {number}",
                    value=curvature,
                    unit="1/m",
                    u=math.hypot(own, 8.0 * drift / line.change.length**2),
                    sensitivity=share,
                    dof=math.inf if scan is None else scan.fit.dof,
                    evaluation="A",
                )
            )
    return value, terms


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
