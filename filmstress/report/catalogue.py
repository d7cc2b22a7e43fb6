"""The substrate table and single cuts for readers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from filmstress.measure.cut import CutModuli, DirectionalModulus
from filmstress.report.quantities import (
    Data,
    bare_data,
    headed,
    measured_data,
    quantity_data,
    values_data,
)
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.report.words import say_plus_minus
from filmstress.stats.coverage import estimate
from filmstress.stats.rounding import plus_minus
from filmstress.substrates.materials import MATERIALS
from filmstress.substrates.table import Constant

TABLE_HEADS = (
    "material",
    "dataset",
    "symbol",
    "value",
    "unit",
    "standard_uncertainty",
    "conditions",
    "source",
    "status",
    "edition",
    "note",
)


def _cells(constant: Constant) -> tuple[object, ...]:
    return (
        constant.material,
        constant.dataset,
        constant.symbol,
        constant.value,
        constant.unit,
        constant.u,
        constant.conditions,
        constant.source,
        constant.status.value,
        constant.edition,
        constant.note,
    )


def table_rows(constants: Sequence[Constant]) -> Iterator[tuple[object, ...]]:
    """Every constant under :data:`TABLE_HEADS`."""
    return map(_cells, constants)


def table_data(constants: Sequence[Constant], edition: str, version: str) -> Data:
    """The whole table."""
    return {
        **headed("substrates", version),
        "edition": edition,
        "constants": [
            dict(zip(TABLE_HEADS, _cells(constant), strict=True))
            | (measured_data(constant.measured()) or {})
            for constant in constants
        ],
    }


def table_text(constants: Sequence[Constant], edition: str) -> str:
    """Materials, how a wafer of each is written, and its constants."""
    lines = [
        f"Substrate table, edition {edition}. Standard uncertainties; sources with --csv or --json."
    ]
    for material in MATERIALS:
        own = [c for c in constants if c.material == material.key]
        lines += [
            "",
            f"{material.key}: {material.title}, {material.system}, as in {material.example}",
        ]
        for dataset in dict.fromkeys(c.dataset for c in own):
            default = " (default)" if dataset and dataset == material.default_dataset else ""
            values = ", ".join(_short(c) for c in own if c.dataset == dataset)
            lines += wrapped(values, f"  {dataset + default + ': ' if dataset else ''}", WIDTH)
    return "\n".join(lines)


# How constants are shown: unit and its size in SI.
_SHOWN = {"Pa": ("GPa", 1e9), "1/K": ("ppm/K", 1e-6), "m": ("angstrom", 1e-10), "1": ("", 1.0)}


def _short(constant: Constant) -> str:
    word, scale = _SHOWN.get(constant.unit, (constant.unit, 1.0))
    told = f"{constant.symbol} {plus_minus(constant.value, constant.u, unit=word, scale=scale)}"
    return told.replace(" ", "\u00a0")


def cut_data(moduli: CutModuli, version: str) -> Data:
    """One cut."""
    cut = moduli.cut
    return {
        **headed("substrate", version),
        "name": cut.label,
        "material": cut.material.title,
        "system": cut.system,
        "edition": cut.edition,
        "dataset": cut.dataset,
        "normal": list(cut.normal),
        "azimuth_reference": moduli.reference,
        "depends_on_azimuth": moduli.biaxial is None,
        "biaxial_modulus": None if moduli.biaxial is None else _modulus_quantity(moduli.biaxial),
        "modulus_by_azimuth": [_modulus_data(entry) for entry in moduli.by_azimuth],
        "stiffness": values_data(moduli.stiffness, "Pa"),
        "constants": [
            {"symbol": constant.symbol, **(measured_data(constant.measured()) or {})}
            | {"source": constant.source, "status": constant.status.value}
            for constant in cut.constants
        ],
    }


CUT_HEADS = ("azimuth [rad]", "modulus [Pa]", "modulus_u [Pa]")


def cut_rows(moduli: CutModuli) -> Iterator[tuple[object, ...]]:
    """Modulus by azimuth under :data:`CUT_HEADS`; one row where it is the same in all."""
    for entry in moduli.by_azimuth or (moduli.biaxial,):
        if entry is not None:
            yield entry.azimuth, entry.modulus, entry.u


def _modulus_data(entry: DirectionalModulus) -> Data:
    return {
        "azimuth": bare_data(entry.azimuth, "rad"),
        "modulus": _modulus_quantity(entry),
    }


def _modulus_quantity(entry: DirectionalModulus) -> Data | None:
    return quantity_data(estimate(entry.modulus, "Pa", u=entry.u))


def cut_text(moduli: CutModuli) -> str:
    """One cut for a terminal."""
    cut = moduli.cut
    set_of = f", constants of {cut.dataset}" if cut.dataset else ""
    lines = [f"{cut.label}: {cut.material.title}{set_of}, table edition {cut.edition}"]
    if moduli.biaxial is not None:
        lines.append(row("  biaxial modulus", _gpa(moduli.biaxial), "the same in all directions"))
    else:
        lines += wrapped(
            "bends differently with azimuth: state azimuth_reference and the azimuth of every scan",
            "  ",
            WIDTH,
        )
        lines.append(f"  {'azimuth':<12}modulus that a scan sees under an equibiaxial stress")
        lines += [
            f"  {math.degrees(entry.azimuth):>5.0f} deg   {_gpa(entry)}"
            for entry in moduli.by_azimuth
        ]
    if cut.system != "isotropic":
        lines.append(row("  azimuth 0", f"along {moduli.reference}"))
    lines.append("  plane-stress stiffness in those axes (xx, yy, xy) [GPa]")
    # Elements that are zero by symmetry come out as rounding dust of either sign.
    lines += [
        "  " + "".join(f"{round(q / 1e9, 2) + 0.0:>10.2f}" for q in line)
        for line in moduli.stiffness
    ]
    lines.append("  constants (standard uncertainties)")
    sources: dict[str, list[str]] = {}
    for constant in cut.constants:
        behind = f"{constant.conditions}; {constant.source} ({constant.status})"
        sources.setdefault(behind, []).append(_short(constant))
    for source, told in sources.items():
        lines += wrapped(", ".join(told), "    ", WIDTH)
        lines += wrapped(source, "      ", WIDTH)
    return "\n".join(lines)


def _gpa(entry: DirectionalModulus) -> str:
    return say_plus_minus(entry.modulus, entry.u, "Pa")
