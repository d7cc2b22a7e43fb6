"""Cuts of substrates: from what is written on the wafer box to a surface normal and constants."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from filmstress.errors import SubstrateError
from filmstress.substrates import planes
from filmstress.substrates.materials import Material, find_material
from filmstress.substrates.planes import Vector
from filmstress.substrates.table import CURRENT_EDITION, Constant, rows

# A longer text is no name, nor are its digits indices.
_LONGEST = 100
_NAME = re.compile(
    r"\s*(?P<material>[^\[\]()<>{}]+?)\s*"
    r"(?:\[(?P<dataset>[^\[\]]*)\])?\s*"
    r"(?:\((?P<plane>[^()]*)\))?\s*"
)
_ROTATED_Y = re.compile(r"(?P<angle>[+-]?\d+(?:\.\d+)?)Y")
_AXES: dict[str, Vector] = {"X": (1.0, 0.0, 0.0), "Y": (0.0, 1.0, 0.0), "Z": (0.0, 0.0, 1.0)}

# Names of planes that are used for every hexagonal and trigonal crystal.
_NAMED_PLANES = {
    "c": (0, 0, 0, 1),
    "a": (1, 1, -2, 0),
    "m": (1, 0, -1, 0),
    "r": (1, -1, 0, 2),
}
# Names of rotated-Y cuts whose angle [deg] is not the number in the name: 127.86 deg is the (10-14)
# plane of lithium niobate; AT and ST are counted in the axes of the table's quartz constants.
_NAMED_ANGLES = {("LiNbO3", "128Y"): 127.86, ("quartz", "AT"): 35.25, ("quartz", "ST"): 42.75}

# A direction farther out of the plane is refused: azimuths are known to a degree at best, but
# a wrong index is wrong by tens of degrees.
_OUT_OF_PLANE_LIMIT_RAD = math.radians(0.1)

_ELASTIC = {
    "cubic": ("c11", "c12", "c44"),
    "hexagonal": ("c11", "c12", "c13", "c33", "c44"),
    "trigonal": ("c11", "c12", "c13", "c14", "c33", "c44"),
    "isotropic": ("youngs_modulus", "poisson_ratio"),
}


@dataclass(frozen=True, slots=True)
class Direction:
    """A direction in a wafer's plane: how it is written, and its unit vector in crystal axes."""

    label: str
    vector: Vector


@dataclass(frozen=True, slots=True)
class Cut:
    """A substrate with its surface.

    Attributes
    ----------
    material : Material
        What it is made of.
    dataset : str
        Data set of the elastic constants, "Mason 1958"; "" for isotropic materials.
    edition : str
        Edition of the table.
    label : str
        "Si(001)".
    normal : tuple of float
        Unit normal of the surface in crystal Cartesian axes (see `filmstress.substrates.planes`).
    plane_normal : tuple of float
        Unit normal of the named plane; differs from ``normal`` by the miscut.
    indices : tuple of int
        Miller indices of the named plane; empty where it has none.
    constants : tuple of Constant
        Rows of the table for this material and data set.
    """

    material: Material
    dataset: str
    edition: str
    label: str
    normal: Vector
    plane_normal: Vector
    indices: planes.Indices
    constants: tuple[Constant, ...]

    @property
    def system(self) -> str:
        """Crystal system: "cubic", "hexagonal", "trigonal" or "isotropic"."""
        return self.material.system

    @property
    def elastic(self) -> dict[str, Constant]:
        """Elastic constants by symbol, as many as the crystal system has."""
        return {symbol: self.constant(symbol) for symbol in _ELASTIC[self.system]}

    def elastic_values(self) -> dict[str, float]:
        """Values of `elastic` [Pa; Poisson's ratio 1]."""
        return {symbol: constant.value for symbol, constant in self.elastic.items()}

    @property
    def density(self) -> Constant:
        """Density [kg/m^3]."""
        return self.constant("density")

    @property
    def stiffening(self) -> Constant | None:
        """Relative change of the stiffness as a whole [1], where the table has one.

        Its value is 0; its uncertainty covers what the constants leave out: the piezoelectric
        stiffening of a bare wafer, the doping of an unknown one.
        """
        return next((row for row in self.constants if row.symbol == "stiffening"), None)

    def constant(self, symbol: str) -> Constant:
        """Return the row of a symbol.

        Raises
        ------
        SubstrateError
            If the table has none for this material.
        """
        for row in self.constants:
            if row.symbol == symbol:
                return row
        raise SubstrateError(
            f"the substrate table, edition {self.edition}, has no {symbol} of {self.material.key}"
        )


def find_cut(text: str, *, edition: str = CURRENT_EDITION) -> Cut:
    """Read a substrate's name.

    Parameters
    ----------
    text : str
        Material and plane: "Si(001)", "GaAs(1 -1 0)", "4H-SiC(0001)", "sapphire(r)",
        "quartz(AT)", "LiNbO3(128Y)"; a glass or a metal has no plane.  A data set other than the
        default is named in square brackets: "Si[McSkimin 1964](111)".
    edition : str
        Edition of the table.

    Raises
    ------
    SubstrateError
        If the material, data set, plane or edition is not known, or the plane is missing.
    """
    match = _NAME.fullmatch(text) if len(text) <= _LONGEST else None
    if match is None:
        if len(text) > _LONGEST:
            text = f"{text[:_LONGEST]}..."
        # The trade writes <100> and {100} for the plane too.
        plain = re.sub(r"[<{]([^<>{}]*)[>}]", r"(\1)", text)
        raise SubstrateError(
            f"'{text}' cannot be read as a substrate",
            hint=f"write '{plain}'"
            if plain != text and _NAME.fullmatch(plain)
            else "write material and plane, 'Si(001)', 'sapphire(c)', 'LiNbO3(128Y)', "
            "or 'fused silica'",
        )
    material = find_material(match["material"])
    constants = rows(material.key, edition=edition)
    dataset = _dataset(material, match["dataset"], constants)
    constants = tuple(row for row in constants if row.dataset in ("", dataset))
    name = material.key if dataset == material.default_dataset else f"{material.key}[{dataset}]"
    plane = match["plane"]
    indices: planes.Indices = ()
    if material.system == "isotropic":
        if plane is not None:
            raise SubstrateError(
                f"{material.key} has no crystal planes; came '{text}'",
                hint=f"write '{material.key}'",
            )
        label, normal = name, _AXES["Z"]
    elif plane is None:
        raise SubstrateError(
            f"the crystal plane is missing in '{text}'",
            hint="write " + " or ".join(f"'{name}({cut})'" for cut in material.cuts[:3]),
        )
    else:
        plane_label, normal, indices = _plane(material, plane.strip(), constants, text)
        label = f"{name}({plane_label})"
    return Cut(material, dataset, edition, label, normal, normal, indices, constants)


def in_plane_direction(cut: Cut, text: str) -> Direction:
    """Read a direction in the plane of a cut.

    Parameters
    ----------
    cut : Cut
        The substrate.  With a miscut, the direction is one of the named plane.
    text : str
        "[110]" or "[1 -1 0]" in cubic crystals; "[11-20]", "X", "Y", "Z" in the others, with a
        minus sign where wanted; "Z'" is Z projected into the plane.

    Raises
    ------
    SubstrateError
        If it cannot be read, or lies more than 0.1 deg out of the plane.
    """
    if cut.system == "isotropic":
        raise SubstrateError(
            f"{cut.material.key} has no crystal directions; came '{text}'", hint="leave it out"
        )
    if len(text) > _LONGEST:
        text = f"{text[:_LONGEST]}..."
    inner = text.strip().removeprefix("[").removesuffix("]").replace("’", "'")
    indices = planes.read_indices(inner)
    if indices is not None:
        indices = planes.direction_indices(indices, cut.system, text)
        vector = planes.direction_vector(indices, _axial_ratio(cut.constants))
        label = f"[{planes.write_indices(indices)}]"
    else:
        sign = -1.0 if inner.startswith("-") else 1.0
        label = inner.upper()
        axis = _AXES.get(label.removeprefix("-").removesuffix("'"))
        if axis is None or cut.system == "cubic" or label.endswith(("X'", "Y'")):
            raise SubstrateError(
                f"'{text}' cannot be read as a crystal direction",
                hint="write [110] or [1-10]"
                if cut.system == "cubic"
                else "write [11-20], [10-10], X, Y, Z, or Z' for Z projected into the plane",
            )
        vector = planes.add((0.0, 0.0, 0.0), axis, times=sign)
        if label.endswith("'"):
            along = planes.dot(vector, cut.plane_normal)
            return Direction(label, _projected(cut, vector, along, text))
    along = planes.dot(vector, cut.plane_normal)
    out_of_plane = math.asin(max(-1.0, min(1.0, along)))
    if abs(out_of_plane) > _OUT_OF_PLANE_LIMIT_RAD:
        raise SubstrateError(
            f"{label} is not in the plane of {cut.label}: "
            f"it stands {abs(math.degrees(out_of_plane)):.1f} deg out of it",
            hint=_suggestion(cut, indices),
        )
    return Direction(label, _projected(cut, vector, along, text))


def default_reference(cut: Cut) -> Direction:
    """Conventional in-plane direction of a cut: [110] of (001), [1-10] of (111), X of quartz(AT).

    It is used where no azimuth reference is stated, which is harmless only where the response
    does not depend on azimuth; that is for the caller to find out.
    """
    if cut.system == "isotropic":
        return Direction("", _AXES["X"])
    if not cut.indices:
        # Planes named by axes: X lies in all of them but X itself.
        label = "X" if abs(cut.plane_normal[0]) < 0.5 else "Y"
        return Direction(label, _AXES[label])
    indices = planes.in_plane_indices(cut.indices)
    vector = planes.direction_vector(indices, _axial_ratio(cut.constants))
    return Direction(f"[{planes.write_indices(indices)}]", vector)


def tilted(cut: Cut, *, miscut_rad: float, toward: Direction) -> Cut:
    """Turn the surface normal of a cut away from that of the named plane.

    Parameters
    ----------
    cut : Cut
        The nominal cut.
    miscut_rad : float
        Angle between the two normals [rad].
    toward : Direction
        In-plane direction towards which the normal turns.
    """
    if miscut_rad == 0.0 or cut.system == "isotropic":
        return cut
    sideways = planes.add((0.0, 0.0, 0.0), toward.vector, times=math.sin(miscut_rad))
    normal = planes.unit(planes.add(sideways, cut.plane_normal, times=math.cos(miscut_rad)))
    off = f"{math.degrees(miscut_rad):g} deg off towards {toward.label}"
    return replace(cut, normal=normal, label=f"{cut.label} {off}")


def _plane(
    material: Material, name: str, constants: tuple[Constant, ...], text: str
) -> tuple[str, Vector, planes.Indices]:
    """Label, normal and indices of a plane as written between the parentheses."""
    indices = planes.read_indices(name)
    if indices is not None:
        indices = planes.plane_indices(indices, material.system, text)
        normal = planes.plane_normal(indices, _axial_ratio(constants))
        return planes.write_indices(indices), normal, indices
    if material.system != "cubic":
        short = re.sub(r"[\s-]*(cut|plane|face)$", "", name, flags=re.IGNORECASE)
        if (indices := _NAMED_PLANES.get(short.lower())) is not None:
            normal = planes.plane_normal(indices, _axial_ratio(constants))
            return short.lower(), normal, indices
        label = re.sub(r"\s|°", "", short).upper()
        if label in _AXES:
            return label, _AXES[label], ()
        angle = _NAMED_ANGLES.get((material.key, label))
        if angle is None and (rotated := _ROTATED_Y.fullmatch(label)):
            angle = float(rotated["angle"])
        if angle is not None:
            turn = math.radians(angle)
            return label, (0.0, math.cos(turn), math.sin(turn)), ()
    known = ", ".join(f"'{material.key}({cut})'" for cut in material.cuts)
    any_plane = "(hkl)" if material.system == "cubic" else "(hkil)"
    raise SubstrateError(
        f"'{name}' is no plane of {material.key}; came '{text}'",
        hint=f"write {known} or any {any_plane}",
    )


def _dataset(material: Material, name: str | None, constants: tuple[Constant, ...]) -> str:
    if name is None:
        return material.default_dataset
    known = tuple(dict.fromkeys(row.dataset for row in constants if row.dataset))
    for dataset in known:
        if dataset.casefold() == " ".join(name.split()).casefold():
            return dataset
    raise SubstrateError(
        f"there is no data set '{name}' of {material.key}",
        hint=f"there is {', '.join(f'{material.key}[{dataset}]' for dataset in known)}"
        if known
        else f"write '{material.key}' without brackets",
    )


def _axial_ratio(constants: tuple[Constant, ...]) -> float:
    """c/a of a hexagonal cell; 1 where the cell is cubic."""
    cell = {row.symbol: row.value for row in constants if row.symbol.startswith("lattice_")}
    return cell["lattice_c"] / cell["lattice_a"] if cell else 1.0


def _projected(cut: Cut, vector: Vector, along: float, text: str) -> Vector:
    flat = planes.add(vector, cut.plane_normal, times=-along)
    if math.hypot(*flat) < 1e-6:
        raise SubstrateError(f"'{text}' is the surface normal of {cut.label}")
    return planes.unit(flat)


def _suggestion(cut: Cut, indices: planes.Indices | None) -> str:
    near = planes.relative_in_plane(indices, cut.indices) if indices and cut.indices else None
    label = f"[{planes.write_indices(near)}]" if near else default_reference(cut).label
    return f"in this plane lies for example {label}"
