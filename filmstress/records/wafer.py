"""What is to be measured, as stated by the user and already in SI: a wafer, its film, its scans.

A wafer has *states* (before, after; later: after layer 1, after anneal, ...).  A line is scanned
in each state; nothing here assumes that there are two.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from filmstress.records.quantity import Measured
from filmstress.records.scan import ReadingOptions


class Support(StrEnum):
    """How the wafer lies while it is scanned."""

    FREE = "free"
    THREE_POINTS = "three-points"
    RIM = "rim"
    CENTRE = "centre"
    FLAT_STAGE = "flat-stage"
    CLAMPED = "clamped"


class Face(StrEnum):
    """Where the film is: on the scanned face (up) or on the other one (down)."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True)
class SubstrateSpec:
    """The substrate as stated: ``material`` names a row of the table, or the constants are given.

    Attributes
    ----------
    material : str or None
        "Si(001)"; None where constants are stated.
    azimuth_reference : str or None
        Crystal direction of the 0 deg scan, "[110]".
    thickness : Measured
        [m], with an uncertainty (a default where none was stated).
    diameter : Measured or None
        [m].
    miscut : Measured or None
        Angle of the surface normal away from the named plane [rad], towards the azimuth reference.
    youngs_modulus, poisson_ratio, density, modulus : Measured or None
        Stated constants [Pa, 1, kg/m^3, Pa]; ``modulus`` is biaxial.
    thickness_common_to : str
        What shares this thickness: "wafer 01" or "lot K7".
    """

    material: str | None
    thickness: Measured
    azimuth_reference: str | None = None
    diameter: Measured | None = None
    miscut: Measured | None = None
    youngs_modulus: Measured | None = None
    poisson_ratio: Measured | None = None
    density: Measured | None = None
    modulus: Measured | None = None
    thickness_common_to: str = "wafer"


@dataclass(frozen=True, slots=True)
class FilmSpec:
    """The film as stated.

    Attributes
    ----------
    thickness : Measured or None
        [m]; None: only the force per width can be found.
    modulus, youngs_modulus, poisson_ratio : Measured or None
        Biaxial modulus [Pa], or E [Pa] and nu in its place; needed only for the mismatch stress
        and where the film is thick.
    face : Face
        Which face carries it.
    both_faces : bool
        Whether the other face carries the same film too.
    stripped : bool
        Whether one face was stripped before the second scan (which lifts ``both_faces``).
    uncoated_ring : Measured
        Width of the ring at the rim that the film does not cover [m].
    thickness_profile : Measured
        Middle minus ends of the scan relative to the mean film thickness [1].
    thickness_common_to : str
        What shares this thickness.
    thickness_files : tuple of (str, str)
        Path and SHA-256 of the record that the thickness was read from, and of its scans.
    """

    thickness: Measured | None
    material: str | None = None
    modulus: Measured | None = None
    youngs_modulus: Measured | None = None
    poisson_ratio: Measured | None = None
    face: Face = Face.UP
    both_faces: bool = False
    stripped: bool = False
    uncoated_ring: Measured = field(default_factory=lambda: Measured(0.0, "m", 0.0))
    thickness_profile: Measured = field(default_factory=lambda: Measured(0.0, "1", 0.0))
    thickness_common_to: str = "wafer"
    thickness_files: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ScanSpec:
    """One scan of one state: its file and the conditions it was taken under.

    Attributes
    ----------
    path : str or None
        None where there is no such scan (a stated bare bow stands in for it).
    azimuth : Measured
        Direction of the scan [rad], counter-clockwise seen from the film side.
    support : Support or None
        None: not stated.
    support_radius : Measured or None
        Radius of the three points [m].
    support_azimuth : Measured or None
        Azimuth of one of the three points [rad].
    origin : Measured or None
        Where x = 0 of the file lies from the wafer's centre along the azimuth [m]; None: centred.
    window : (float, float) or None
        Part of the scan to use [m], in wafer coordinates.
    offset : Measured or None
        Stated place of this scan's x on the first scan of the line, less what origins and azimuths
        say [m]; None: found by registration.  Always None for the first scan itself.
    bow_repeatability, offset_repeatability, line_repeatability : Measured
        Of one scan [m].
    position_scale, height_scale : Measured
        Scale factors, value 1 with the relative uncertainty [1].
    datum : str or None
        Path of a scan of a flat that gives the stage's own straightness; "from-lot"; None.
    height_up : bool
        Whether larger numbers in the file are farther out of the scanned face.
    reading : ReadingOptions
        What the user states about the file's layout.
    labels : tuple of (str, str)
        instrument, operator, date, temperature: carried along, not used in a computation.
    """

    path: str | None
    azimuth: Measured
    support: Support | None = None
    support_radius: Measured | None = None
    support_azimuth: Measured | None = None
    origin: Measured | None = None
    window: tuple[float, float] | None = None
    offset: Measured | None = None
    bow_repeatability: Measured = field(default_factory=lambda: Measured(0.0, "m", 0.0))
    offset_repeatability: Measured = field(default_factory=lambda: Measured(0.0, "m", 0.0))
    line_repeatability: Measured = field(default_factory=lambda: Measured(0.0, "m", 0.0))
    position_scale: Measured = field(default_factory=lambda: Measured(1.0, "1", 0.0))
    height_scale: Measured = field(default_factory=lambda: Measured(1.0, "1", 0.0))
    datum: str | None = None
    height_up: bool = True
    reading: ReadingOptions = field(default_factory=ReadingOptions)
    labels: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class State:
    """A named state of the wafer ("pre", "post", ...) and the scan of one line in it."""

    name: str
    scan: ScanSpec


@dataclass(frozen=True, slots=True)
class LineSpec:
    """One line across the wafer, scanned in several states, oldest first.

    ``weight`` holds two scans of the bare wafer on two supports, or nothing.
    """

    states: tuple[State, ...]
    weight: tuple[State, ...] = ()

    @property
    def azimuth(self) -> Measured:
        """Azimuth of the line [rad]: that of its first state."""
        return self.states[0].scan.azimuth


THIS_WAFER = "this wafer"
"""The id of a wafer that is measured by itself, and has none."""


def wafer_named(wafer_id: str) -> str:
    """``wafer 03``, and of a wafer that is measured by itself ``wafer``."""
    return "wafer" if wafer_id == THIS_WAFER else f"wafer {wafer_id}"


@dataclass(frozen=True, slots=True)
class WaferSpec:
    """One wafer and everything stated about its measurement.

    Attributes
    ----------
    bare_bow : Measured or None
        Bow of the uncoated wafer over the scan [m], stated in place of a scan before deposition.
    reference : str
        "before" or "stripped": how the first state was reached.
    role : str
        "product" or "witness" (never coated; its interval must hold zero).
    settings : tuple of (str, str)
        Every setting as the user wrote it, for the record and the echo.
    notes : tuple of str
        Defaults that were filled in, in words.
    gravity : Measured
        Acceleration of free fall [m/s^2]; met only where bare scans on two supports are given.
    """

    id: str
    substrate: SubstrateSpec
    film: FilmSpec
    lines: tuple[LineSpec, ...]
    bare_bow: Measured | None = None
    reference: str = "before"
    role: str = "product"
    settings: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    gravity: Measured = field(default_factory=lambda: Measured(9.80665, "m/s^2", 0.0))

    @property
    def named(self) -> str:
        """What its own inputs are shared by: ``wafer 03``."""
        return wafer_named(self.id)
