"""What simulated scans are drawn from: wafer, film, stage, noise and troubles."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields

from filmstress.errors import RefusedInput
from filmstress.records.wafer import Face

MIN_POINTS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanConditions:
    """How one scan of the wafer was taken, and what went wrong with it.

    Attributes
    ----------
    lateral_offset_m : float
        Where the scan's centre lies on the wafer, along the line [m].
    sideways_m : float
        How far the scan ran beside its line, to the left seen along the azimuth [m].
    reversed : bool
        The wafer was turned by half a turn: the scan runs from the line's other end.
    tilt_rad : float
        Slope of the wafer under the instrument [rad].
    height_offset_m : float
        Added to every height [m].
    drift_m : float
        Height gained from the first to the last point, growing with the square of time [m].
    dust_count : int
        Particles on the line.
    dust_height_m, dust_width_m : float
        Largest height and typical full width of a particle [m]; each is drawn between 0.3 and 1
        times this height and between 0.5 and 1.5 times this width.
    blank_count : int
        Points without a height (NaN).
    wild_count : int
        Single points that are wrong by plus or minus ``wild_height_m`` [m].
    """

    lateral_offset_m: float = 0.0
    sideways_m: float = 0.0
    reversed: bool = False
    tilt_rad: float = 0.0
    height_offset_m: float = 0.0
    drift_m: float = 0.0
    dust_count: int = 0
    dust_height_m: float = 1e-6
    dust_width_m: float = 200e-6
    blank_count: int = 0
    wild_count: int = 0
    wild_height_m: float = 20e-6

    def __post_init__(self) -> None:
        _refuse_outside(self, positive=("dust_width_m",), natural=_COUNTS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """Everything that a pair of simulated scans is drawn from.  SI floats.

    The plate is linear: thin film, small deflection, no change of its sag between the scans.

    Attributes
    ----------
    substrate : str
        Material and cut of the substrate table, "Si(001)".
    azimuth_reference : str or None
        Crystal direction of azimuth 0, "[110]"; None: the cut's conventional one.
    substrate_thickness_m, diameter_m : float
        Of the wafer [m].
    stress_x_pa, stress_y_pa : float
        Mean stress that the film carries along its two principal axes [Pa], tension positive;
        ``stress_y_pa`` None: equibiaxial.  Where it varies, the mean over the wafer.
    stress_axis_rad : float
        Azimuth of the axis of ``stress_x_pa`` [rad].
    film_thickness_m : float
        [m].
    film_quartic_share : float
        Departure of the film's own deflection from a parabola, relative to its bow over the
        scan: a Legendre polynomial of order four, which leaves a least-squares parabola over
        the whole centred scan where it is [1].
    film_radial_share : float
        Stress at the rim less that at the centre, relative to the mean over the wafer, growing with
        the square of the radius [1].
    face : Face
        Whether the film is on the scanned face.
    azimuths_rad : tuple of float
        Azimuths of the lines, counter-clockwise seen from the film side [rad].
    scan_length_m : float
        Length of a scan as its file gives it [m]; the scan is centred on the wafer.
    points : int
        Evenly spaced points of a scan.
    first_x_m : float
        Position that the file gives to the first point [m].
    bare_bow_m : float
        Bow of the bare wafer over the scan, positive for a bowl [m].
    bare_cubic_share : float
        Height of a cubic part at the ends of the 0 deg line, relative to ``bare_bow_m`` [1].
    waviness_rms_m, waviness_length_m : float
        Waviness of the wafer's face: rms and correlation length l, autocovariance
        rms^2 exp(-d^2 / 2 l^2) [m].  It belongs to the wafer and is the same in every scan.
    stage_rms_m, stage_length_m : float
        Straightness error of the stage, likewise [m]; the same in every scan of that stage.
    stage_seed : int
        Which stage; wafers of one lot share it.
    white_noise_m : float
        Standard deviation of the noise of single points [m].
    correlated_noise_m, correlation_length_m : float
        Standard deviation and correlation length of an Ornstein-Uhlenbeck noise [m].
    walk_m : float
        Standard deviation of a random walk at the end of the scan [m].
    bow_repeatability_m, offset_repeatability_m, line_repeatability_m : float
        Standard deviations of a slow bow over the scan, of the scan's place along the line and
        of its place beside the line [m], drawn anew for each scan.
    position_scale, height_scale : float
        The file's positions and heights over the true ones [1].
    height_step_m : float
        Step to which heights are rounded [m]; 0: none.
    pre, post : ScanConditions
        Conditions of the scans before and after deposition.
    weighed_on : tuple of str
        Supports on which the bare wafer is scanned besides, where it sags by its own weight:
        "rim", "centre", "three-points 50 mm" or, with the azimuth of one point, "three-points
        50 mm 30 deg".
    seed : int
        Which wafer and which noise; the same seed draws the same scans.

    Raises
    ------
    RefusedInput
        A value that is not finite or lies outside what it can be.
    """

    substrate: str = "Si(001)"
    azimuth_reference: str | None = None
    substrate_thickness_m: float
    diameter_m: float
    stress_x_pa: float
    stress_y_pa: float | None = None
    stress_axis_rad: float = 0.0
    film_thickness_m: float
    film_quartic_share: float = 0.0
    film_radial_share: float = 0.0
    face: Face = Face.UP
    azimuths_rad: tuple[float, ...] = (0.0,)
    scan_length_m: float
    points: int
    first_x_m: float = 0.0
    bare_bow_m: float = 0.0
    bare_cubic_share: float = 0.0
    waviness_rms_m: float = 0.0
    waviness_length_m: float = 1e-3
    stage_rms_m: float = 0.0
    stage_length_m: float = 25e-3
    stage_seed: int = 0
    white_noise_m: float = 0.0
    correlated_noise_m: float = 0.0
    correlation_length_m: float = 5e-3
    walk_m: float = 0.0
    bow_repeatability_m: float = 0.0
    offset_repeatability_m: float = 0.0
    line_repeatability_m: float = 0.0
    position_scale: float = 1.0
    height_scale: float = 1.0
    height_step_m: float = 0.0
    pre: ScanConditions = field(default_factory=ScanConditions)
    post: ScanConditions = field(default_factory=ScanConditions)
    weighed_on: tuple[str, ...] = ()
    seed: int = 0

    def __post_init__(self) -> None:
        _refuse_outside(self, positive=_POSITIVE, not_negative=_NOT_NEGATIVE, natural=_NATURAL)
        if self.points < MIN_POINTS:
            raise _refused("points", self.points, f"at least {MIN_POINTS}")
        if self.scan_length_m > self.diameter_m:
            raise _refused(
                "scan_length_m", self.scan_length_m, f"at most the diameter, {self.diameter_m:g} m"
            )
        if not self.azimuths_rad or not all(map(math.isfinite, self.azimuths_rad)):
            raise _refused("azimuths_rad", self.azimuths_rad, "one finite angle or more")
        for name in ("pre", "post"):
            lost = getattr(self, name).blank_count + getattr(self, name).wild_count
            if lost > self.points // 2:
                raise _refused(
                    f"{name}.blank_count + {name}.wild_count", lost, "at most half of the points"
                )

    @property
    def mean_stress_pa(self) -> float:
        """Mean of the two principal stresses [Pa]."""
        return 0.5 * (self.stress_x_pa + self.principal_stresses_pa[1])

    @property
    def principal_stresses_pa(self) -> tuple[float, float]:
        """Both principal stresses [Pa], the equibiaxial case written out."""
        second = self.stress_x_pa if self.stress_y_pa is None else self.stress_y_pa
        return self.stress_x_pa, second


_NOT_NUMBERS = (
    "substrate",
    "azimuth_reference",
    "face",
    "azimuths_rad",
    "weighed_on",
    "pre",
    "post",
    "reversed",
)
_COUNTS = ("dust_count", "blank_count", "wild_count")
_NATURAL = ("points", "seed", "stage_seed")
_POSITIVE = (
    "substrate_thickness_m",
    "diameter_m",
    "film_thickness_m",
    "scan_length_m",
    "waviness_length_m",
    "stage_length_m",
    "correlation_length_m",
    "position_scale",
    "height_scale",
)
_NOT_NEGATIVE = (
    "waviness_rms_m",
    "stage_rms_m",
    "white_noise_m",
    "correlated_noise_m",
    "walk_m",
    "bow_repeatability_m",
    "offset_repeatability_m",
    "line_repeatability_m",
    "height_step_m",
)


def _refused(where: str, came: object, wanted: str) -> RefusedInput:
    return RefusedInput(f"{came!r} came; want {wanted}", where=where)


def _refuse_outside(
    record: ScanConditions | Truth,
    *,
    positive: tuple[str, ...] = (),
    not_negative: tuple[str, ...] = (),
    natural: tuple[str, ...] = (),
) -> None:
    """Refuse the first value of ``record`` that is not finite or outside its class."""
    for item in fields(record):
        name, value = item.name, getattr(record, item.name)
        if name == "stress_y_pa" and value is None:
            continue
        if name in natural:
            if isinstance(value, bool) or not isinstance(value, int) or value < 0:
                raise _refused(name, value, "a whole number, 0 or more")
        elif name not in _NOT_NUMBERS:
            if isinstance(value, bool) or not isinstance(value, float | int):
                raise _refused(name, value, "a number")
            if not math.isfinite(value):
                raise _refused(name, value, "a finite number")
            if name in positive and value <= 0:
                raise _refused(name, value, "a number above 0")
            if name in not_negative and value < 0:
                raise _refused(name, value, "0 or more")
