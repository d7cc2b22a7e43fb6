"""The substrate table and single cuts for readers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from filmstress.measure.cut import CutModuli, DirectionalModulus
from filmstress.report.data import Data, headed, measured_data
from filmstress.report.text import WIDTH, row, wrapped
from filmstress.stats.rounding import significant
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
            dict(zip(TABLE_HEADS, _cells(constant), strict=True)) for constant in constants
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


def _short(constant: Constant) -> str:
    value, u, unit = constant.value, constant.u, constant.unit
    if unit == "Pa":
        value, u, unit = value / 1e9, u / 1e9, "GPa"
    elif unit == "1/K":
        value, u, unit = value * 1e6, u * 1e6, "ppm/K"
    elif unit == "m":
        value, u, unit = value * 1e10, u * 1e10, "angstrom"
    tail = "" if unit == "1" else f" {unit}"
    return f"{constant.symbol} {value:.6g} ± {significant(u, 2)}{tail}"


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
        "biaxial_modulus": None if moduli.biaxial is None else _modulus_data(moduli.biaxial),
        "modulus_by_azimuth": [_modulus_data(entry) for entry in moduli.by_azimuth],
        "stiffness": [[float(q) for q in line] for line in moduli.stiffness],
        "unit": "Pa",
        "constants": [
            {"symbol": constant.symbol, **(measured_data(constant.measured()) or {})}
            | {"source": constant.source, "status": constant.status.value}
            for constant in cut.constants
        ],
    }


def _modulus_data(entry: DirectionalModulus) -> Data:
    return {
        "azimuth": entry.azimuth,
        "value": entry.modulus,
        "unit": "Pa",
        "standard_uncertainty": entry.u,
    }


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
    lines += ["  " + "".join(f"{q / 1e9:>12.4f}" for q in line) for line in moduli.stiffness]
    lines.append("  constants")
    for constant in cut.constants:
        lines += wrapped(
            f"{_short(constant)}; {constant.conditions}; {constant.source} ({constant.status})",
            "    ",
            WIDTH,
        )
    return "\n".join(lines)


def _gpa(entry: DirectionalModulus) -> str:
    return f"{entry.modulus / 1e9:.4f} ± {significant(entry.u, 2, scale=1e9)} GPa"
