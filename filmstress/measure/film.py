"""From curvature changes and the plate to force per width and stress, with every budget term."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.measure.response import Response, normal_response, plain_response, turning
from filmstress.physics import bilayer
from filmstress.physics.elasticity import azimuth_spread
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.wafer import Face, ScanSpec, WaferSpec
from filmstress.stats.budget import scale as scaled
from filmstress.stats.budget import term

Floats = NDArray[np.float64]

# The film's modulus enters the relaxed mean at third order in h_f/h_s only; unstated, it may be
# anything up to four times the substrate's.
OPEN_RATIO = Measured(
    2.0, "1", 2.0 / math.sqrt(3.0), shape=Shape.RECTANGULAR, source=Source.DEFAULT
)
# Spread of the modulus over azimuths that is rounding [1].
_ALIKE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """All that the outputs of one wafer are made from.

    Attributes
    ----------
    wafer : WaferSpec
    plate : Plate
    directions : tuple of Direction
        Curvature changes.
    film_modulus : Measured or None
        Biaxial [Pa].
    normal, plain : Response
        Normal force along each direction by the tensor form, and by the plain equation.
    """

    wafer: WaferSpec
    plate: Plate
    directions: tuple[Direction, ...]
    film_modulus: Measured | None
    normal: Response
    plain: Response

    @classmethod
    def of(
        cls,
        wafer: WaferSpec,
        plate: Plate,
        directions: tuple[Direction, ...],
        film_modulus: Measured | None,
    ) -> Film:
        """Join a wafer's statements, its plate and its curvature changes."""
        azimuths = np.array([direction.azimuth for direction in directions])
        plain = plain_response(plate, azimuths)
        normal = plain if azimuths.size == 1 else normal_response(plate, azimuths)
        return cls(wafer, plate, directions, film_modulus, normal, plain)

    @property
    def changes(self) -> Floats:
        """Mean curvature change of every direction [1/m]."""
        return np.array([direction.change for direction in self.directions])

    @property
    def film_changes(self) -> Floats:
        """What the film alone makes of them on a linear plate [1/m]."""
        return np.array([direction.film_change for direction in self.directions])

    @property
    def bending_changes(self) -> Floats:
        """With what the weight took or gave: what thickness and modulus answer to [1/m]."""
        return np.array([d.film_change + d.sag * d.gain for d in self.directions])

    @property
    def stiffenings(self) -> Floats:
        """What of them is owed to more than linear growth [1/m]."""
        return np.array([d.film_change * d.stiffening for d in self.directions])

    @property
    def face_sign(self) -> float:
        """+1 with the film on the scanned face, -1 with the film on the other one."""
        return 1.0 if self.wafer.film.face is Face.UP else -1.0

    @property
    def thickness_ratio(self) -> float:
        """h_f / h_s; 0 where the film's thickness is not stated."""
        film = self.wafer.film.thickness
        return 0.0 if film is None else film.value / self.wafer.substrate.thickness.value

    @property
    def modulus(self) -> float:
        """Biaxial modulus that the fitted lines see on average [Pa]."""
        return float(np.trace(self.plain.row)) / len(self.directions)

    @property
    def modulus_ratio(self) -> Measured:
        """M_f / M_s, or what it may be where the film's modulus is not stated."""
        if self.film_modulus is None:
            return OPEN_RATIO
        return Measured(
            self.film_modulus.value / self.modulus,
            "1",
            (self.film_modulus.u or 0.0) / self.modulus,
            self.film_modulus.dof,
            self.film_modulus.shape,
            source=self.film_modulus.source,
        )


# What multiplies the force per width that Stoney's equation gives, as a function of
# (h_f / h_s, M_f / M_s); the second says whether the film's thickness divides.
Factor = Callable[[float, float], float]

# Relative change of something an output is to be multiplied by, for a small change of Q [1].
Beside = Callable[[Floats], float]


def _relaxed(h: float, m: float) -> float:
    return bilayer.relaxed_over_stoney(thickness_ratio=h, modulus_ratio=m)


def _mismatch(h: float, m: float) -> float:
    return bilayer.mismatch_over_stoney(thickness_ratio=h, modulus_ratio=m)


def _plain(h: float, m: float) -> float:  # noqa: ARG001 - one shape of function for all
    return 1.0


def stress(
    film: Film, index: int | None = None, *, beside: Beside | None = None
) -> tuple[float, list[Term]]:
    """Relaxed mean stress [Pa] and its terms; along one direction where ``index`` is given.

    ``beside`` is the relative change, with the plate's stiffness, of a factor that the caller
    multiplies value and terms by: both changes then stand in one row.
    """
    response = film.normal.mean() if index is None else film.normal.along(index)
    return _output(film, response, _relaxed, per_thickness=True, beside=beside)


def stress_by(film: Film, response: Response) -> tuple[float, list[Term]]:
    """Relaxed mean stress [Pa] by another row of the plate's response, and its terms."""
    return _output(film, response, _relaxed, per_thickness=True)


def stress_stoney(film: Film) -> tuple[float, list[Term]]:
    """The plain equation [Pa]."""
    return _output(film, film.plain.mean(), _plain, per_thickness=True, plain=True)


def stress_mismatch(film: Film) -> tuple[float, list[Term]]:
    """Stress on a rigid substrate [Pa]."""
    return _output(film, film.normal.mean(), _mismatch, per_thickness=True)


def force_per_width(
    film: Film, index: int | None = None, *, beside: Beside | None = None
) -> tuple[float, list[Term]]:
    """Relaxed mean stress times film thickness [N/m]; ``index`` and ``beside`` as in `stress`."""
    response = film.normal.mean() if index is None else film.normal.along(index)
    return _output(film, response, _relaxed, per_thickness=False, beside=beside)


def _output(
    film: Film,
    response: Response,
    factor: Factor,
    *,
    per_thickness: bool,
    plain: bool = False,
    beside: Beside | None = None,
) -> tuple[float, list[Term]]:
    h_s = film.wafer.substrate.thickness
    h_f = film.wafer.film.thickness
    h, m = film.thickness_ratio, film.modulus_ratio
    scale = film.face_sign * h_s.value**2 / 6.0 * factor(h, m.value)
    if per_thickness:
        if h_f is None:
            raise ValueError("a stress needs the film's thickness")
        scale /= h_f.value
    here = response.row
    changes = film.changes if plain else film.film_changes
    domes = np.zeros_like(changes) if plain else _domes(film)
    risen = domes * film.wafer.film.thickness_profile.value
    value = scale * float(here @ (changes + risen))
    weights = scale * here
    terms: list[Term] = []
    for weight, direction in zip(weights.tolist(), film.directions, strict=True):
        terms += scaled(direction.terms, weight * (1.0 if plain else direction.gain))
        terms += () if plain else scaled(direction.corrections, weight)
    slope_h = _slope(lambda ratio: math.log(factor(ratio, m.value)), h)
    slope_m = _slope(lambda ratio: math.log(factor(h, ratio)), m.value)
    # The weight's force depends neither on thickness nor on modulus: with it, all of the bending.
    bent = changes if plain else film.bending_changes + risen
    of_modulus = 1.0 if film.film_modulus is None else 1.0 - m.value * slope_m
    terms += _scale_terms(film, weights, plain=plain)
    along = None if beside is None else _times(beside, value)
    terms += _plate_terms(film, response, scale * of_modulus, bent, along)
    squared = 2.0 * float(weights @ bent)
    if not plain:
        squared -= float(weights @ film.stiffenings)
        terms += _diameter_terms(film, weights)
    terms.append(
        term(
            "substrate thickness",
            h_s,
            (squared - value * h * slope_h) / h_s.value,
            common_to=film.wafer.substrate.thickness_common_to,
        )
    )
    if h_f is not None:
        of_thickness = slope_h / h_s.value - (1.0 / h_f.value if per_thickness else 0.0)
        if of_thickness != 0.0:
            terms.append(
                term(
                    "film thickness",
                    h_f,
                    value * of_thickness + float(weights @ risen) / h_f.value,
                    common_to=film.wafer.film.thickness_common_to,
                )
            )
        # Below a millionth it is a line to read, not a contribution.
        if abs(slope_m) * (m.u or 0.0) > 1e-6:
            terms.append(
                term(
                    "film modulus over substrate's",
                    m,
                    value * slope_m,
                    common_to=film.wafer.film.thickness_common_to,
                )
            )
    if domes.any() and (profile := film.wafer.film.thickness_profile).u:
        terms.append(
            term(
                "film thickness profile",
                profile,
                float(weights @ domes),
                common_to=film.wafer.film.thickness_common_to,
            )
        )
    return value, terms


def _slope(function: Callable[[float], float], at: float) -> float:
    """Derivative of a smooth function by central differences (relative step 1e-5)."""
    if at == 0.0:
        return 0.0
    step = 1e-5 * at
    return (function(at + step) - function(at - step)) / (2.0 * step)


def _scale_terms(film: Film, weights: Floats, *, plain: bool) -> Iterator[Term]:
    """Position and height scale: kappa goes as s_z / s_x^2."""
    for weight, direction in zip(weights.tolist(), film.directions, strict=True):
        share = weight * (1.0 if plain else direction.gain) / len(direction.lines)
        for number, line in zip(direction.numbers, direction.lines, strict=True):
            for scan, curvature, state in gauge_readings(film.wafer, number, line, direction.sag):
                yield from gauge_terms(scan, share * curvature, state)


def gauge_readings(
    wafer: WaferSpec, number: int, line: CurvatureChange, sag: float
) -> list[tuple[ScanSpec, float, str]]:
    """Parts [1/m] that gauges read of the change of a line, each with its scan and which it is.

    One gauge for both scans scales their difference; two gauges scale each scan by itself.  What
    the gauge reads holds the sag; a stated bare bow was not read by it.
    """
    states = [s.scan for s in wafer.lines[number].states if s.scan.path is not None]
    after = line.post.fit.curvature
    read = line.change.curvature + sag
    if line.pre is None:
        return [(states[-1], after + sag, "")]
    if _gauge(states[0]) == _gauge(states[-1]):
        return [(states[-1], read, "")]
    return [(states[0], read - after, " before"), (states[-1], after, " after")]


def _gauge(scan: ScanSpec) -> tuple[str, float | None, float | None]:
    """What tells one gauge from another: its name, and how well its scales are known."""
    name = dict(scan.labels).get("instrument", "")
    return name, scan.position_scale.u, scan.height_scale.u


def same_gauge(one: ScanSpec, other: ScanSpec) -> bool:
    """Whether two scans were taken with one gauge, as far as was stated."""
    return _gauge(one) == _gauge(other)


def gauge_label(
    wafer: WaferSpec, number: int, scan: ScanSpec, otherwise: str = " of the weight"
) -> str:
    """The state by which `gauge_terms` knows a further scan's gauge among those of a line."""
    states = [state.scan for state in wafer.lines[number].states if state.scan.path is not None]
    one = same_gauge(states[0], states[-1])
    if same_gauge(scan, states[-1]):
        return "" if one else " after"
    return " before" if same_gauge(scan, states[0]) else otherwise


def gauge_terms(scan: ScanSpec, output: float, state: str = "") -> Iterator[Term]:
    """Terms of the scales of one gauge for an output that goes as height over position squared.

    ``state`` tells two gauges without names apart.
    """
    name = _gauge(scan)[0]
    gauge = f"gauge {name}" if name else f"gauge{state}"
    yield term("position scale", scan.position_scale, -2.0 * output, common_to=gauge)
    yield term("height scale", scan.height_scale, output, common_to=gauge)


def _diameter_terms(film: Film, weights: Floats) -> list[Term]:
    """The diameter enters stiffening and sag, both as its square."""
    diameter = film.wafer.substrate.diameter
    if diameter is None or not diameter.u:
        return []
    sags = np.array([direction.sag * direction.gain for direction in film.directions])
    sensitivity = 2.0 * float(weights @ (film.stiffenings - sags)) / diameter.value
    if sensitivity == 0.0:
        return []
    return [term("diameter", diameter, sensitivity, common_to=film.wafer.named)]


def _times(beside: Beside, value: float) -> Beside:
    return lambda change: value * beside(change)


def _plate_terms(
    film: Film,
    response: Response,
    scale: float,
    changes: Floats,
    along: Beside | None = None,
) -> Iterator[Term]:
    """Constants of the substrate (one row for a table's), and the cut's azimuth."""
    rows: dict[str, list[tuple[Measured, float]]] = {}
    symbols: dict[str, list[str]] = {}
    for source, slope in response.slopes:
        effect = scale * float(slope @ changes)
        effect += along(source.derivative) if along else 0.0
        rows.setdefault(source.row, []).append((source.measured, effect))
        symbols.setdefault(source.row, []).append(source.symbol)
    common = film.plate.common_to
    # One azimuth of a cut that bends alike in all directions answers to them through one modulus.
    parted = len(film.directions) > 1 or azimuth_spread(film.plate.reduced) > _ALIKE
    output = scale * float(response.row @ changes)
    for name, parts in rows.items():
        if len(parts) == 1:
            yield term(name, parts[0][0], parts[0][1], common_to=common)
            continue
        # Several constants of the table make up one modulus; they are independent.
        effects = [effect * (m.u or 0.0) for m, effect in parts]
        combined = math.hypot(*effects)
        sensitivity = output / film.modulus if output else scale
        yield Term(
            input=name,
            value=film.modulus,
            unit="Pa",
            u=combined / abs(sensitivity),
            sensitivity=sensitivity,
            common_to=common,
            source=Source.TABLE,
            parts=tuple(zip(symbols[name], effects, strict=True)) if parted else (),
        )
    azimuth = film.wafer.lines[0].azimuth
    effect = scale * float(response.turn @ changes)
    effect += along(turning(film.plate.reduced)) if along else 0.0
    # On cuts that bend alike in all directions this is rounding noise, not a contribution.
    if azimuth.u and abs(effect) * azimuth.u > 1e-9 * abs(output):
        yield term("cut and azimuth", azimuth, effect, common_to=film.wafer.named)


def _domes(film: Film) -> Floats:
    """What the film's own thickness profile on the scanned face takes off each curvature [1/m].

    A film thicker in the middle by r h_f stands up as a dome of curvature -8 r h_f / L^2, which
    is put back: 8 h_f / L^2 times r; in stress that is (4/3) M (h_s / L)^2 r.
    """
    h_f = film.wafer.film.thickness
    if h_f is None or film.wafer.film.face is not Face.UP:
        return np.zeros(len(film.directions))
    lengths = np.array([d.mean(lambda line: line.change.length) for d in film.directions])
    return np.asarray(8.0 * h_f.value / lengths**2)
