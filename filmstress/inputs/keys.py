"""The one table of keys: what may be stated about a measurement, and how each text is read.

The command line's options, the keyword arguments of the Python call, the lot file's tables and the
column heads of a wafer table are all made from this list.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from filmstress.inputs.readers import (
    Choice,
    Quantity,
    QuantityOrRecord,
    QuantityOrWord,
    QuantityRange,
    Reader,
    Text,
    UnitWord,
)
from filmstress.units.kinds import Kind

# Scans of the bare wafer on two supports: each a key that names the file, and a prefix.
WEIGHINGS = ("weight_first", "weight_second")


@dataclass(frozen=True, slots=True)
class Key:
    """One thing that may be stated.

    Attributes
    ----------
    table : str
        "substrate", "film", "scan" or "wafer".
    name : str
        Name inside its table of the lot file.
    reader : Reader
        How its text is read.
    help : str
        One line for people.
    argument : str
        Name as a keyword argument; with dashes for underscores, as an option.
    per_scan : bool
        Whether the scans of a line may differ in it (prefixes ``pre_`` and ``post_``; and, for
        bare scans on two supports, those of `WEIGHINGS`).
    """

    table: str
    name: str
    reader: Reader
    help: str
    argument: str
    per_scan: bool = False

    @property
    def full_name(self) -> str:
        """``table.name``, the name in a lot file and in messages."""
        return f"{self.table}.{self.name}"


def _length(name: str, low: float, high: float, example: str) -> Quantity:
    return Quantity(Kind(name, "length", low, high, example))


def _stress(name: str, low: float, high: float, example: str) -> Quantity:
    return Quantity(Kind(name, "stress", low, high, example))


def _angle(name: str, example: str, limit_rad: float = 12.6) -> Quantity:
    return Quantity(Kind(name, "angle", -limit_rad, limit_rad, example))


def _number(name: str, low: float, high: float, example: str) -> Quantity:
    return Quantity(Kind(name, "number", low, high, example))


def _share(name: str, low: float, high: float, example: str) -> Quantity:
    return Quantity(Kind(name, "relative", low, high, example))


_SUBSTRATE: tuple[tuple[str, str, Reader, str], ...] = (
    (
        "material",
        "substrate",
        Text("Si(001)"),
        "Material and cut from the substrate table, name(plane): Si(001), sapphire(c).",
    ),
    (
        "azimuth_reference",
        "azimuth_reference",
        Text("[110]"),
        "Crystal direction of the 0 deg scan.",
    ),
    (
        "diameter",
        "diameter",
        _length("diameter", 5e-3, 0.5, "150 mm"),
        "Diameter of the wafer.",
    ),
    (
        "thickness",
        "substrate_thickness",
        _length("substrate thickness", 10e-6, 10e-3, "525 um ± 2 um"),
        "Thickness of the bare wafer; it enters squared.",
    ),
    (
        "miscut",
        "miscut",
        _angle("miscut", "4 deg", 0.35),
        "Tilt of the surface away from the named plane, towards the azimuth reference.",
    ),
    (
        "youngs_modulus",
        "substrate_youngs_modulus",
        _stress("substrate Young's modulus", 1e9, 2e12, "73 GPa ± 1 GPa"),
        "Young's modulus of a substrate outside the table.",
    ),
    (
        "poisson_ratio",
        "substrate_poisson_ratio",
        _number("substrate Poisson's ratio", 0.0, 0.4999, "0.22 ± 0.01"),
        "Poisson's ratio of a substrate outside the table.",
    ),
    (
        "modulus",
        "substrate_modulus",
        _stress("substrate biaxial modulus", 1e9, 3e12, "180.3 GPa ± 0.5 GPa"),
        "Biaxial modulus E/(1 - nu) of a substrate outside the table.",
    ),
    (
        "density",
        "substrate_density",
        Quantity(Kind("substrate density", "density", 500.0, 25000.0, "2330 kg/m^3")),
        "Density of a substrate outside the table.",
    ),
)

_FILM: tuple[tuple[str, str, Reader, str], ...] = (
    ("material", "film_material", Text("silicon nitride"), "Name of the film, for the record."),
    (
        "thickness",
        "film_thickness",
        QuantityOrRecord(Kind("film thickness", "length", 0.2e-9, 1e-3, "500 nm ± 1 %")),
        "Thickness of the film, or 'from FILE': a record of filmstress thickness --json; without "
        "it only the force per width can be found.",
    ),
    (
        "modulus",
        "film_modulus",
        _stress("film biaxial modulus", 0.5e9, 3e12, "260 GPa ± 20 GPa"),
        "Biaxial modulus of the film; needed only for the mismatch stress.",
    ),
    (
        "youngs_modulus",
        "film_youngs_modulus",
        _stress("film Young's modulus", 0.5e9, 2e12, "200 GPa ± 10 GPa"),
        "Young's modulus of the film, with its Poisson's ratio, in place of its modulus.",
    ),
    (
        "poisson_ratio",
        "film_poisson_ratio",
        _number("film Poisson's ratio", 0.0, 0.4999, "0.25 ± 0.02"),
        "Poisson's ratio of the film.",
    ),
    (
        "face",
        "film_face",
        Choice(("up", "down")),
        "Whether the film is on the scanned face (up) or on the other one (down).",
    ),
    (
        "faces",
        "film_faces",
        Choice(("one", "both")),
        "Whether one face or both carry the film.",
    ),
    (
        "uncoated_ring",
        "film_uncoated_ring",
        _length("uncoated ring", 0.0, 0.05, "3 mm"),
        "Width of the ring at the rim that the film does not cover.",
    ),
    (
        "thickness_profile",
        "film_thickness_profile",
        _share("film thickness profile", -0.5, 0.5, "2 % ± 1 %"),
        "Film thickness in the middle minus the ends of the scan, relative to the mean.",
    ),
)

_SCAN: tuple[tuple[str, str, Reader, str], ...] = (
    ("azimuth", "azimuth", _angle("azimuth", "90 deg"), "Direction of the scan."),
    (
        "support",
        "support",
        Choice(("free", "three-points", "rim", "centre", "flat-stage", "clamped")),
        "How the wafer lies while it is scanned.",
    ),
    (
        "support_radius",
        "support_radius",
        _length("support radius", 1e-3, 0.25, "50 mm ± 0.5 mm"),
        "Distance of the three support points from the wafer's centre.",
    ),
    (
        "support_azimuth",
        "support_azimuth",
        _angle("support azimuth", "30 deg"),
        "Azimuth of one of the three support points.",
    ),
    (
        "origin",
        "origin",
        _length("origin", -0.5, 0.5, "-40 mm"),
        "Where x = 0 of the file lies from the wafer's centre, along the azimuth; where not stated "
        "the middle of each scan is taken to lie there.",
    ),
    (
        "window",
        "window",
        QuantityRange(Kind("window", "length", -0.25, 0.25, "-30 mm..30 mm")),
        "Part of the scan to use, from the wafer's centre.",
    ),
    (
        "offset",
        "offset",
        QuantityOrWord(Kind("offset", "length", -0.02, 0.02, "0.3 mm ± 0.05 mm"), "auto"),
        "Sideways place of the second scan on the first along the line; auto finds it.",
    ),
    (
        "bow_repeatability",
        "bow_repeatability",
        _length("bow repeatability", 0.0, 1e-3, "15 nm"),
        "Repeatability of the bow of one scan (slow drift that a single scan cannot see).",
    ),
    (
        "offset_repeatability",
        "offset_repeatability",
        _length("offset repeatability", 0.0, 0.02, "50 um"),
        "Repeatability of the place of the scan along its line when the wafer is re-loaded.",
    ),
    (
        "line_repeatability",
        "line_repeatability",
        _length("line repeatability", 0.0, 0.02, "0.2 mm"),
        "Repeatability of the scan line sideways.",
    ),
    (
        "position_scale_uncertainty",
        "position_scale_uncertainty",
        _share("position scale uncertainty", 0.0, 0.2, "0.1 %"),
        "Relative standard uncertainty of the position scale.",
    ),
    (
        "height_scale_uncertainty",
        "height_scale_uncertainty",
        _share("height scale uncertainty", 0.0, 0.5, "0.5 %"),
        "Relative standard uncertainty of the height scale.",
    ),
    (
        "datum",
        "datum",
        Text("flat.csv"),
        "Scan of a flat that gives the stage's own straightness, subtracted from every scan.",
    ),
    (
        "height_up",
        "height_up",
        Choice(("yes", "no")),
        "Whether larger numbers lie farther out of the scanned face.",
    ),
    (
        "position_unit",
        "position_unit",
        UnitWord("length", "mm"),
        "Unit of the positions where the file does not say.",
    ),
    (
        "height_unit",
        "height_unit",
        UnitWord("length", "um"),
        "Unit of the heights where the file does not say.",
    ),
    ("decimal", "decimal", Choice((".", ",")), "Decimal mark where the file leaves it open."),
    (
        "columns",
        "columns",
        Text("1,3"),
        "Position and height column by name or number, where the file leaves them open.",
    ),
    (
        "interval",
        "interval",
        _length("sampling interval", 1e-9, 1e-2, "0.5 um"),
        "Distance between the points of a file that holds heights only.",
    ),
    (
        "trace",
        "trace",
        Text("2"),
        "Which of several scans in one file, by its number or name.",
    ),
    ("instrument", "instrument", Text("S2"), "For the record."),
    ("operator", "operator", Text("initials"), "For the record."),
    ("date", "date", Text("2026-03-14"), "For the record."),
    ("temperature", "temperature", Text("22 degC"), "For the record."),
)

# Written among the keys of a scan, but one for all scans of a wafer.
_SCANS: tuple[tuple[str, str, Reader, str], ...] = (
    (
        "bare_bow",
        "bare_bow",
        _length("bare bow", -5e-3, 5e-3, "0 um ± 15 um"),
        "Bow of the uncoated wafer over the scan, in place of a scan before deposition.",
    ),
    (
        "reference",
        "reference",
        Choice(("before", "stripped")),
        "Whether the first scan was taken before deposition or after stripping the film.",
    ),
    (
        "weight_first",
        "weight_first",
        Text("weight/01-points.csv"),
        "Scan of the bare wafer on a known support; left out, the scan before deposition is it.",
    ),
    (
        "weight_second",
        "weight_second",
        Text("weight/01-rim.csv"),
        "Scan of the bare wafer on another one: its own weight then calibrates its bending.",
    ),
    (
        "gravity",
        "gravity",
        Quantity(Kind("gravity", "acceleration", 9.7, 9.9, "9.812 m/s^2 ± 0.001 m/s^2")),
        "Acceleration of free fall where the wafer was scanned.",
    ),
)

_WAFER: tuple[tuple[str, str, Reader, str], ...] = (
    (
        "role",
        "role",
        Choice(("product", "witness")),
        "A witness was never coated: its interval must hold zero.",
    ),
)


_TABLES = (
    ("substrate", _SUBSTRATE, False),
    ("film", _FILM, False),
    ("scan", _SCAN, True),
    ("scan", _SCANS, False),
    ("wafer", _WAFER, False),
)


@cache
def all_keys() -> tuple[Key, ...]:
    """Every key, in the order people meet them."""
    return tuple(
        Key(table, name, reader, text, argument, per_scan)
        for table, rows, per_scan in _TABLES
        for name, argument, reader, text in rows
    )


@cache
def keys_of(table: str) -> dict[str, Key]:
    """The keys of one table by name."""
    return {key.name: key for key in all_keys() if key.table == table}


def arguments() -> Iterator[tuple[str, Key, str]]:
    """Every keyword argument: its name, its key, and the state it speaks of ("" is all)."""
    for key in all_keys():
        yield key.argument, key, ""
    for key in all_keys():
        if key.per_scan:
            yield f"pre_{key.argument}", key, "pre"
            yield f"post_{key.argument}", key, "post"
    for state in WEIGHINGS:
        for key in all_keys():
            if key.per_scan:
                yield f"{state}_{key.argument}", key, state
