"""Outcomes made by hand: a wafer's stress from its terms, without measuring anything."""

from __future__ import annotations

import math

from filmstress.records.budget import Term
from filmstress.records.lot import LotSpec, Specification, WaferOutcome
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.quantity import Measured
from filmstress.records.result import StressResult, SubstrateUsed
from filmstress.records.wafer import FilmSpec, SubstrateSpec, WaferSpec
from filmstress.stats.budget import combine
from filmstress.stats.coverage import estimate

MPA = 1e6


def term(name: str, u_mpa: float, *, common_to: str = "", dof: float = math.inf) -> Term:
    """An input that brings ``u_mpa`` to the stress."""
    return Term(
        input=name,
        value=0.0,
        unit="1",
        u=1.0,
        sensitivity=u_mpa * MPA,
        dof=dof,
        common_to=common_to,
    )


def wafer(name: str, role: str = "product") -> WaferSpec:
    return WaferSpec(
        id=name,
        substrate=SubstrateSpec("Si(001)", Measured(675e-6, "m", 1e-6)),
        film=FilmSpec(Measured(500e-9, "m", 5e-9)),
        lines=(),
        role=role,
    )


def outcome(
    name: str,
    stress_mpa: float | None,
    *terms: Term,
    u_mpa: float = 0.0,
    role: str = "product",
    force: float | None = None,
    known: bool = True,
) -> WaferOutcome:
    """A measured wafer; without a stress it has a force per width only."""
    budget = combine([*terms, *([term("curvature fit", u_mpa)] if u_mpa else [])])
    nothing = estimate(0.0, "1/m", u=1.0)
    stress = None
    if stress_mpa is not None:
        u = budget.u if known else None
        stress = estimate(stress_mpa * MPA, "Pa", u=u, dof=budget.dof)
    result = StressResult(
        wafer=wafer(name, role),
        substrate=SubstrateUsed("Si(001)", Measured(180e9, "Pa", 1e9), (), "", ()),
        files=(),
        stress=stress,
        stress_by_direction=(),
        stress_stoney=None,
        stress_mismatch=None,
        force_per_width=None if force is None else estimate(force, "N/m", u=1.0),
        curvature_change=nothing,
        curvature_pre=nothing,
        curvature_post=nothing,
        radius=None,
        bow_change=nothing,
        lines=(),
        budget=budget,
        warnings=(),
    )
    return WaferOutcome(result.wafer, result, None)


def refused(name: str, role: str = "product") -> WaferOutcome:
    return WaferOutcome(wafer(name, role), None, Notice(RefusalCode.UNREADABLE, "no such file"))


def lot(*outcomes: WaferOutcome, specification: Specification | None = None) -> LotSpec:
    return LotSpec("K7", "", "lot.toml", "", tuple(one.wafer for one in outcomes), specification)
