"""Lots to chart, without a history."""

from __future__ import annotations

from collections.abc import Sequence

from filmstress.charting.lots import Series, series_of
from filmstress.records.budget import Term
from filmstress.records.history import Found, KeptWafer


def term(name: str, effect: float, common_to: str = "", dof: float = float("inf")) -> Term:
    return Term(
        input=name, value=1.0, unit="1", u=1.0, sensitivity=effect, common_to=common_to, dof=dof
    )


def wafer(
    stress: float | None, *terms: Term, role: str = "product", refusal: str = ""
) -> KeptWafer:
    u = sum(one.contribution**2 for one in terms) ** 0.5 if terms else 1e6
    return KeptWafer("1", role, stress, None if stress is None else u, refusal=refusal, terms=terms)


def found(
    lots: Sequence[Sequence[KeptWafer]],
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> list[Found]:
    """A lot a day, from the first of March on."""
    return [
        Found(i, one, f"A{i}", "nitride", f"2026-03-{i:02d}", "", lower, upper)
        for i, lot in enumerate(lots, start=1)
        for one in lot
    ]


def series(
    stresses: Sequence[Sequence[float]],
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> Series:
    """Lots of wafers with these stresses, 1 MPa of their own uncertainty each."""
    own = term("noise", 1e6)
    lots = [[wafer(one, own) for one in lot] for lot in stresses]
    return series_of("nitride", found(lots, lower=lower, upper=upper))
