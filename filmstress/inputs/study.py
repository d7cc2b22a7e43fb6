"""From readings to a study of a gauge: which of them are repeats, and what changes between them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput, UsageError
from filmstress.inputs.names import nearest
from filmstress.records.study import Reading, Readings

# Of one name under two wafers these are different ones all the same.
OF_A_WAFER = ("loading", "load")


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """Readings of wafers, ordered for analysis.

    Attributes
    ----------
    readings : Readings
        Where they come from.
    between : str
        What changes between readings of a wafer beside chance: "operator"; empty for nothing.
    crossed : bool
        Whether it is the same for several wafers, not another one for each.
    wafers, others : tuple of str
        Which wafer, and which operator or the like, each value belongs to; ``others`` is empty
        where nothing is studied between readings.
    values : ndarray, shape (n,)
        [unit of the readings].
    varying : tuple of str
        Labels that vary between readings of a wafer, too, and are not studied.
    """

    readings: Readings
    between: str
    crossed: bool
    wafers: tuple[str, ...]
    others: tuple[str, ...]
    values: NDArray[np.float64]
    varying: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """SI unit of the values; empty for numbers without one."""
        return self.readings.unit

    @property
    def reading(self) -> str:
        """What was read: "bow"."""
        return self.readings.what

    @property
    def cells(self) -> Counter[tuple[str, str]]:
        """Readings of each wafer by each operator or the like."""
        return Counter(zip(self.wafers, self.others or self.wafers, strict=True))

    @property
    def shape(self) -> tuple[int, ...] | None:
        """(wafers, operators, repeats), or (wafers, repeats); None for an unbalanced study."""
        cells = self.cells
        names, sizes = Counter(wafer for wafer, _ in cells), set(cells.values())
        among = len(set(self.others)) if self.crossed else max(names.values())
        if len(sizes) > 1 or set(names.values()) != {among if self.others else 1}:
            return None
        return (len(names), among, *sizes) if self.others else (len(names), *sizes)


def study_of(readings: Readings, between: str | None = None) -> Study:
    """Arrange readings for a study.

    An operator (instrument, date) that is named under several wafers is the same one for all: the
    study is crossed.  Loadings are different ones under each wafer whatever they are called, and
    so is what is named under one wafer only: the study is nested.

    Parameters
    ----------
    readings : Readings
    between : str, optional
        Label to study; by default the first that can be told from wafers and repeats.

    Raises
    ------
    UsageError
        The readings have no such label.
    RefusedInput
        Nothing was read twice, or the label cannot be told from wafers or is the same for all.
    """
    rows, where = readings.rows, readings.source
    sizes = Counter(row.wafer for row in rows)
    if not sizes or max(sizes.values()) < 2:
        raise RefusedInput(
            f"{len(rows)} readings of {len(sizes)} wafers came and none was read twice: there is "
            "no repeatability to be seen",
            where=where,
            hint="read some of the wafers two times or more, re-loaded each time",
        )
    known = list(dict.fromkeys(name for row in rows for name in row.labels))
    varying = [name for name in known if _varies(rows, name)]
    if between is None:
        chosen = next((name for name in varying if _can_be_told(rows, name)), "")
    else:
        chosen = between
        _check(rows, between, known, where)
    others = tuple(row.labels[chosen] for row in rows) if chosen else ()
    return Study(
        readings=readings,
        between=chosen,
        crossed=bool(chosen) and _crossed(rows, chosen),
        wafers=tuple(row.wafer for row in rows),
        others=others,
        values=np.array([row.value for row in rows]),
        varying=tuple(name for name in varying if name != chosen),
    )


def _levels(rows: tuple[Reading, ...], name: str) -> dict[str, list[str]]:
    """What is named in each wafer."""
    levels: dict[str, list[str]] = {}
    for row in rows:
        levels.setdefault(row.wafer, []).append(row.labels.get(name, ""))
    return levels


def _varies(rows: tuple[Reading, ...], name: str) -> bool:
    return any(len(set(those)) > 1 for those in _levels(rows, name).values())


def _crossed(rows: tuple[Reading, ...], name: str) -> bool:
    levels = [set(those) for those in _levels(rows, name).values()]
    if name in OF_A_WAFER:
        return False
    return len(levels) == 1 or max(Counter(one for those in levels for one in those).values()) > 1


def _can_be_told(rows: tuple[Reading, ...], name: str) -> bool:
    """Whether a label that varies can be told from repeats, and is known of every reading."""
    if any(not row.labels.get(name) for row in rows):
        return False
    cells = {(row.wafer, row.labels[name]) for row in rows}
    wafers, others = ({cell[i] for cell in cells} for i in (0, 1))
    alone = len(wafers) + len(others) - 1 if _crossed(rows, name) else len(cells)
    return len(rows) > alone


def _check(rows: tuple[Reading, ...], name: str, known: list[str], where: str) -> None:
    if name not in known:
        told = "no labels" if not known else ", ".join(known)
        raise UsageError(
            f"the readings of {where} have {told}",
            where=f"--between {name}",
            hint=nearest(name, known) if known else "leave it away",
        )
    missing = sum(not row.labels.get(name) for row in rows)
    levels = {row.labels.get(name, "") for row in rows}
    problem = ""
    if missing:
        problem = f"{missing} of {len(rows)} readings have no {name}"
    elif len(levels) == 1:
        problem = f"all readings have the same {name}: between {name}s nothing can be seen"
    elif not _varies(rows, name):
        problem = f"each wafer has one {name} only: {name}s cannot be told from wafers"
    elif not _can_be_told(rows, name):
        problem = f"no {name} read a wafer twice: {name}s cannot be told from repeats"
    if problem:
        raise RefusedInput(problem, where=where, hint="leave --between away, or add such readings")
