"""From recorded wafers to the points of a chart: one a lot, with its uncertainty."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from filmstress.records.budget import Term
from filmstress.records.history import Found, KeptWafer

_PRODUCT = "product"
_Name = tuple[str, str]


@dataclass(frozen=True, slots=True)
class LotPoint:
    """One lot on a chart.

    Attributes
    ----------
    entry : int
        Its number in the history.
    lot, at : str
        Name and date.
    stresses : tuple of float
        Of its product wafers [Pa].
    own_u : float or None
        Standard uncertainty of their mean from what differs from lot to lot [Pa]; None where the
        uncertainty of a wafer is not known.
    u : float or None
        The same from everything, with what all lots share.
    dof : float
        Effective degrees of freedom of ``u``.
    wafer_u : float or None
        Of one wafer, from what differs from lot to lot: root mean square over the wafers [Pa].
    lower, upper : float or None
        Its specification [Pa].
    """

    entry: int
    lot: str
    at: str
    stresses: tuple[float, ...]
    own_u: float | None
    u: float | None
    dof: float
    wafer_u: float | None
    lower: float | None
    upper: float | None

    @property
    def mean(self) -> float:
        """Mean stress of the lot [Pa]."""
        return math.fsum(self.stresses) / len(self.stresses)

    @property
    def shared_u(self) -> float | None:
        """Standard uncertainty from what all lots share [Pa]."""
        if self.u is None or self.own_u is None:
            return None
        return math.sqrt(max(0.0, self.u**2 - self.own_u**2))

    @property
    def name(self) -> str:
        """Lot and day, for a reader."""
        return f"{self.lot}, {self.at[:10]}"


@dataclass(frozen=True, slots=True)
class Series:
    """The lots of a recipe in the order of time.

    Attributes
    ----------
    recipe : str
    points : tuple of LotPoint
    refused, unstated, witnesses : int
        Wafers left out: the measurement was refused; no stress, for want of the film's thickness;
        not product.
    empty : tuple of str
        Lots of which nothing is left.
    again : tuple of int
        Entries passed over: a later one was computed from the same scans.
    """

    recipe: str
    points: tuple[LotPoint, ...]
    refused: int = 0
    unstated: int = 0
    witnesses: int = 0
    empty: tuple[str, ...] = ()
    again: tuple[int, ...] = ()

    @property
    def wafers(self) -> int:
        """Wafers behind the points."""
        return sum(len(one.stresses) for one in self.points)

    def with_several(self) -> Series:
        """Only the lots of at least two wafers."""
        return replace(self, points=tuple(one for one in self.points if len(one.stresses) > 1))


def series_of(
    recipe: str,
    found: Iterable[Found],
    *,
    last: int | None = None,
    again: tuple[int, ...] = (),
) -> Series:
    """Gather wafers into lots.

    Parameters
    ----------
    recipe : str
    found : iterable of Found
        In the order of time, with their budgets.
    last : int or None
        Only so many of the latest lots.
    again : tuple of int
        Entries that were passed over before.
    """
    lots = [list(wafers) for _, wafers in groupby(found, key=lambda one: one.number)]
    lots = lots if last is None else lots[-last:]
    used: list[tuple[Found, list[KeptWafer]]] = []
    left = Counter[str]()
    empty: list[str] = []
    for lot in lots:
        kept: list[KeptWafer] = []
        for one in lot:
            fate = _fate(one.wafer)
            left[fate] += 1
            if not fate:
                kept.append(one.wafer)
        if kept:
            used.append((lot[0], kept))
        else:
            empty.append(lot[0].lot)
    common = _common([wafers for _, wafers in used])
    return Series(
        recipe,
        tuple(_point(first, wafers, common) for first, wafers in used),
        refused=left["refused"],
        unstated=left["unstated"],
        witnesses=left["witness"],
        empty=tuple(empty),
        again=again,
    )


def _fate(wafer: KeptWafer) -> str:
    """Why a wafer is left out; empty where it is not."""
    if wafer.role != _PRODUCT:
        return "witness"
    if wafer.refusal:
        return "refused"
    return "" if wafer.stress is not None else "unstated"


def _name(term: Term) -> _Name:
    return term.input, term.common_to


def _common(lots: Sequence[Sequence[KeptWafer]]) -> frozenset[_Name]:
    """Inputs that every lot shares: their errors move all points alike."""
    count = Counter[_Name]()
    for wafers in lots:
        count.update({_name(term) for one in wafers for term in one.terms if term.common_to})
    several = len(lots) > 1
    return frozenset(
        name for name, lots_with in count.items() if several and lots_with == len(lots)
    )


def _point(found: Found, wafers: Sequence[KeptWafer], common: frozenset[_Name]) -> LotPoint:
    own = whole = of_wafers = None
    dof = math.inf
    if all(one.stress_u is not None for one in wafers):
        mean = [effect for one in wafers for effect in _effects(one)]
        own, whole, dof = _combined(mean, common)
        own, whole = own / len(wafers), whole / len(wafers)
        squares = [_combined(_effects(one), common)[0] ** 2 for one in wafers]
        of_wafers = math.sqrt(math.fsum(squares) / len(wafers))
    return LotPoint(
        entry=found.number,
        lot=found.lot,
        at=found.at,
        stresses=tuple(one.stress for one in wafers if one.stress is not None),
        own_u=own,
        u=whole,
        dof=dof,
        wafer_u=of_wafers,
        lower=found.lower,
        upper=found.upper,
    )


def _effects(wafer: KeptWafer) -> list[tuple[_Name, float, float]]:
    """Each input with what it does to the stress [Pa] and its degrees of freedom."""
    if not wafer.terms:
        return [(("", ""), wafer.stress_u or 0.0, wafer.stress_dof)]
    return [(_name(term), term.sensitivity * term.u, term.dof) for term in wafer.terms]


def _combined(
    effects: Sequence[tuple[_Name, float, float]], common: frozenset[_Name]
) -> tuple[float, float, float]:
    """Uncertainty of a sum: from what differs between lots, from all, and its freedom."""
    alone = [(effect, dof) for (_, thing), effect, dof in effects if not thing]
    together: dict[_Name, tuple[float, float]] = {}
    for name, effect, dof in effects:
        if name[1]:
            so_far, least = together.get(name, (0.0, math.inf))
            together[name] = so_far + effect, min(least, dof)
    own = [*alone, *(one for name, one in together.items() if name not in common)]
    every = [*alone, *together.values()]
    variance = math.fsum(effect**2 for effect, _ in every)
    # Welch and Satterthwaite (JCGM 100:2008, G.2b).
    spread = math.fsum(effect**4 / dof for effect, dof in every)
    dof = max(1.0, variance**2 / spread) if spread else math.inf
    return math.sqrt(math.fsum(effect**2 for effect, _ in own)), math.sqrt(variance), dof
