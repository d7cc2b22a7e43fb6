"""The table of substrate constants: one value a row, each with its uncertainty and its source.

The rows stand in ``data/<edition>.csv`` as they are printed in their sources; an edition, once
released, is never changed, so that a stress can be recomputed with the constants of its day.

The uncertainty describes an arbitrary wafer of the material (spread between data sets, doping,
purity), not the scatter of one laboratory, so every data set of a material carries the same one.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from pathlib import Path

from filmstress.errors import SubstrateError
from filmstress.records.quantity import Measured, Source

CURRENT_EDITION = "2026-11"

# importlib.resources would cost 8 ms of start-up, more than the rest of this room.
_DATA = Path(__file__).with_name("data")

# Unit as printed: the SI unit and the power of ten that leads to it.
_UNITS = {
    "GPa": ("Pa", 9),
    "kg/m^3": ("kg/m^3", 0),
    "1e-6/K": ("1/K", -6),
    "angstrom": ("m", -10),
    "1": ("1", 0),
}


class Status(StrEnum):
    """How a value was checked."""

    CONFIRMED = "confirmed in print"
    SECOND_HAND = "confirmed second hand"
    MEMORY = "from memory"
    DERIVED = "derived"
    ESTIMATED = "estimated"


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One value of the table.

    Attributes
    ----------
    material, dataset : str
        Material key and data set ("Mason 1958"); an empty data set holds beside all of them.
    symbol : str
        "c11" and so on; "youngs_modulus", "poisson_ratio", "density", "lattice_a", "cte",
        "mean_cte" (with "_a" and "_c" along the axes), or "stiffening": a relative change of the
        stiffness as a whole.
    value, u : float
        Value and standard uncertainty [unit].
    unit : str
        SI unit.
    status : Status
        How the value was checked.
    source : str
        Full citation.
    edition : str
        Edition of the table it is taken from.
    conditions, note : str
        Temperature and the like; anything else worth knowing.

    Raises
    ------
    ValueError
        If there is no source or no material, or the uncertainty is negative.
    """

    material: str
    dataset: str
    symbol: str
    value: float
    unit: str
    u: float
    status: Status
    source: str
    edition: str
    conditions: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not self.source.strip() or not self.material:
            raise ValueError(f"{self.symbol} of '{self.material}' has no source")
        if not self.u >= 0.0:
            raise ValueError(f"{self.symbol} of {self.material} has an uncertainty of {self.u}")

    def measured(self) -> Measured:
        """As an input of a measurement."""
        return Measured(
            self.value,
            self.unit,
            self.u,
            read_as=f"table {self.edition}, {self.source}",
            source=Source.TABLE,
        )


def editions() -> tuple[str, ...]:
    """Editions of the table that this version carries, oldest first."""
    return tuple(sorted(path.stem for path in _DATA.glob("[0-9]*.csv")))


def file_sha256(edition: str = CURRENT_EDITION) -> str:
    """SHA-256 of the bytes of an edition's file.

    Raises
    ------
    SubstrateError
        If the edition is not known.
    """
    import hashlib

    _records(edition)
    return hashlib.sha256((_DATA / f"{edition}.csv").read_bytes()).hexdigest()


def rows(material: str | None = None, *, edition: str = CURRENT_EDITION) -> tuple[Constant, ...]:
    """All constants of an edition, or those of one material key.

    Raises
    ------
    SubstrateError
        If the edition is not known.
    """
    records = _records(edition)
    sources = _sources()
    return tuple(
        _constant(record, sources, edition)
        for key, group in records.items()
        if material is None or key == material
        for record in group
    )


def _constant(record: dict[str, str], sources: dict[str, str], edition: str) -> Constant:
    unit, power = _UNITS[record["unit"]]
    return Constant(
        material=record["material"],
        dataset=record["dataset"],
        symbol=record["symbol"],
        # Moving the decimal point in the text keeps the printed value exact.
        value=float(f"{record['value']}e{power}"),
        unit=unit,
        u=float(f"{record['u']}e{power}"),
        status=Status(record["status"]),
        source="; ".join(sources[key] for key in record["source"].split()),
        edition=edition,
        conditions=record["conditions"],
        note=record["note"],
    )


@cache
def _records(edition: str) -> dict[str, list[dict[str, str]]]:
    known = editions()
    if edition not in known:
        raise SubstrateError(
            f"there is no edition '{edition}' of the substrate table",
            hint=f"this version of filmstress has {', '.join(known)}",
        )
    groups: dict[str, list[dict[str, str]]] = {}
    for record in _read(f"{edition}.csv"):
        groups.setdefault(record["material"], []).append(record)
    return groups


@cache
def _sources() -> dict[str, str]:
    return {record["key"]: record["citation"] for record in _read("sources.csv")}


def _read(name: str) -> list[dict[str, str]]:
    with (_DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
