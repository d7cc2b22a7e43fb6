"""From curvature changes and the plate to force per width and stress, with every budget term."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.physics import bilayer, elasticity
from filmstress.physics.azimuths import force_from_azimuths, normal_row
from filmstress.records.budget import Term
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.wafer import Face, ScanSpec, WaferSpec
from filmstress.stats.budget import term

Floats = NDArray[np.float64]
# Output force per width = (h_s^2/6) s (row @ curvature changes), row in Pa and made from Q.
Row = Callable[[Floats], Floats]

# The film's modulus enters the relaxed mean at third order in h_f/h_s only; unstated, it may be
# anything up to four times the substrate's.
_OPEN_RATIO = Measured(
    2.0, "1", 2.0 / math.sqrt(3.0), shape=Shape.RECTANGULAR, source=Source.DEFAULT
)


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """All that the outputs of one wafer are made from."""

    wafer: WaferSpec
    plate: Plate
    directions: tuple[Direction, ...]
    film_modulus: Measured | None

    @property
    def azimuths(self) -> Floats:
        """Azimuths of the directions [rad]."""
        return np.array([direction.azimuth for direction in self.directions])

    @property
    def changes(self) -> Floats:
        """Mean curvature change of every direction [1/m]."""
        return np.array([direction.change for direction in self.directions])

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
        return float(self.plain_row(self.plate.reduced).sum())

    @property
    def modulus_ratio(self) -> Measured:
        """M_f / M_s, or what it may be where the film's modulus is not stated."""
        if self.film_modulus is None:
            return _OPEN_RATIO
        return Measured(
            self.film_modulus.value / self.modulus,
            "1",
            (self.film_modulus.u or 0.0) / self.modulus,
            self.film_modulus.dof,
            self.film_modulus.shape,
            source=self.film_modulus.source,
        )

    def normal_rows(self, reduced: Floats) -> Floats:
        """Row for the normal force along each direction, shape (n, n) [Pa]."""
        rows: Floats = normal_row(self.azimuths) @ force_from_azimuths(reduced, self.azimuths)
        return rows

    def mean_row(self, reduced: Floats) -> Floats:
        """Row for the mean of the normal forces along the directions [Pa]."""
        mean: Floats = self.normal_rows(reduced).mean(axis=0)
        return mean

    def plain_row(self, reduced: Floats) -> Floats:
        """Row for Stoney's equation with each azimuth's own modulus, averaged [Pa]."""
        return np.array(
            [
                elasticity.directional_modulus(elasticity.rotate_reduced(reduced, direction.azimuth))
                for direction in self.directions
            ]
        ) / len(self.directions)

    def along(self, index: int) -> Row:
        """Row for the normal force along one direction."""
        return lambda reduced: self.normal_rows(reduced)[index]


# What multiplies the force per width that Stoney's equation gives, as a function of
# (h_f / h_s, M_f / M_s); the second says whether the film's thickness divides.
Factor = Callable[[float, float], float]


def _relaxed(h: float, m: float) -> float:
    return bilayer.relaxed_over_stoney(thickness_ratio=h, modulus_ratio=m)


def _mismatch(h: float, m: float) -> float:
    return bilayer.mismatch_over_stoney(thickness_ratio=h, modulus_ratio=m)


def _plain(h: float, m: float) -> float:  # noqa: ARG001 - one shape of function for all
    return 1.0


def stress(film: Film, row: Row | None = None) -> tuple[float, list[Term]]:
    """Relaxed mean stress [Pa] and its terms; along one direction where ``row`` is given."""
    return _output(film, row or film.mean_row, _relaxed, per_thickness=True)


def stress_stoney(film: Film) -> tuple[float, list[Term]]:
    """The plain equation [Pa]."""
    return _output(film, film.plain_row, _plain, per_thickness=True)


def stress_mismatch(film: Film) -> tuple[float, list[Term]]:
    """Stress on a rigid substrate [Pa]."""
    return _output(film, film.mean_row, _mismatch, per_thickness=True)


def force_per_width(film: Film) -> tuple[float, list[Term]]:
    """Relaxed mean stress times film thickness [N/m]."""
    return _output(film, film.mean_row, _relaxed, per_thickness=False)


def _output(
    film: Film, row: Row, factor: Factor, *, per_thickness: bool
) -> tuple[float, list[Term]]:
    h_s = film.wafer.substrate.thickness
    h_f = film.wafer.film.thickness
    h, m = film.thickness_ratio, film.modulus_ratio
    scale = film.face_sign * h_s.value**2 / 6.0 * factor(h, m.value)
    if per_thickness:
        if h_f is None:
            raise ValueError("a stress needs the film's thickness")
        scale /= h_f.value
    here = row(film.plate.reduced)
    value = scale * float(here @ film.changes)
    terms = [
        replace(part, sensitivity=part.sensitivity * scale * weight)
        for weight, direction in zip(here, film.directions, strict=True)
        for part in direction.terms
    ]
    terms += _scale_terms(film, scale * here)
    terms += _plate_terms(film, row, scale)
    slope_h = _slope(lambda ratio: math.log(factor(ratio, m.value)), h)
    terms.append(
        term(
            "substrate thickness",
            h_s,
            value * (2.0 - h * slope_h) / h_s.value,
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
                    value * of_thickness,
                    common_to=film.wafer.film.thickness_common_to,
                )
            )
        slope_m = _slope(lambda ratio: math.log(factor(h, ratio)), m.value)
        # Below a millionth it is a line to read, not a contribution.
        if abs(slope_m) * (m.u or 0.0) > 1e-6:
            terms.append(
                term("film modulus over substrate's", m, value * slope_m, common_to="recipe film")
            )
    profile_value, profile_terms = _profile(film, scale * here)
    return value + profile_value, [*terms, *profile_terms]


def _slope(function: Callable[[float], float], at: float) -> float:
    """Derivative of a smooth function by central differences (relative step 1e-5)."""
    if at == 0.0:
        return 0.0
    step = 1e-5 * at
    return (function(at + step) - function(at - step)) / (2.0 * step)


def _scale_terms(film: Film, weights: Floats) -> Iterator[Term]:
    """Position and height scale: kappa goes as s_z / s_x^2.

    One gauge for both scans scales their difference; two gauges scale each scan by itself.
    """
    specs = [[state.scan for state in line.states] for line in film.wafer.lines]
    gauges = {_gauge(scan) for line in specs for scan in line}
    change = float(weights @ film.changes)
    if len(gauges) == 1 or len({_gauge(scan) for line in specs for scan in line}) == 1:
        yield from gauge_terms(specs[0][-1], change)
        return
    post = float(weights @ [d.mean(lambda line: line.post.fit.curvature) for d in film.directions])
    yield from gauge_terms(specs[0][0], change - post)
    yield from gauge_terms(specs[0][-1], post)


def _gauge(scan: ScanSpec) -> str:
    name = dict(scan.labels).get("instrument", "")
    return f"gauge {name}" if name else "gauge"


def gauge_terms(scan: ScanSpec, output: float) -> Iterator[Term]:
    """Terms of the scales of one gauge for an output that goes as height over position squared."""
    gauge = _gauge(scan)
    yield term("position scale", scan.position_scale, -2.0 * output, common_to=gauge)
    yield term("height scale", scan.height_scale, output, common_to=gauge)


def _plate_terms(film: Film, row: Row, scale: float) -> Iterator[Term]:
    """Constants of the substrate (one row for a table's), and the cut's azimuth."""
    q = film.plate.reduced
    rows: dict[str, list[tuple[Measured, float]]] = {}
    for part in film.plate.inputs:
        u = part.measured.u or 0.0
        step = 0.01 * u * part.derivative
        if u == 0.0:
            continue
        effect = scale * float((row(q + step) - row(q - step)) @ film.changes) / (0.02 * u)
        rows.setdefault(part.row, []).append((part.measured, effect))
    common = film.plate.common_to
    for name, parts in rows.items():
        if len(parts) == 1:
            yield term(name, parts[0][0], parts[0][1], common_to=common)
            continue
        # Several constants of the table make up one modulus; they are independent.
        combined = math.sqrt(math.fsum((effect * (m.u or 0.0)) ** 2 for m, effect in parts))
        output = scale * float(row(q) @ film.changes)
        modulus = film.modulus
        sensitivity = output / modulus if output else scale
        yield Term(
            input=name,
            value=modulus,
            unit="Pa",
            u=combined / abs(sensitivity),
            sensitivity=sensitivity,
            common_to=common,
            source=Source.TABLE,
        )
    azimuth = film.wafer.lines[0].azimuth
    if azimuth.u:
        angle = math.radians(0.2)
        turned = [elasticity.rotate_reduced(q, sign * angle) for sign in (-1.0, 1.0)]
        effect = scale * float((row(turned[1]) - row(turned[0])) @ film.changes) / (2.0 * angle)
        # On cuts that bend alike in all directions this is rounding noise, not a contribution.
        if abs(effect) * azimuth.u > 1e-9 * abs(scale * float(row(q) @ film.changes)):
            yield term("cut and azimuth", azimuth, effect, common_to=f"wafer {film.wafer.id}")


def _profile(film: Film, weights: Floats) -> tuple[float, list[Term]]:
    """The film's own thickness profile on the scanned face reads as curvature.

    A film thicker in the middle by r h_f stands up as a dome of curvature -8 r h_f / L^2, which
    is taken out again; in stress that is (4/3) M (h_s / L)^2 r.
    """
    h_f, profile = film.wafer.film.thickness, film.wafer.film.thickness_profile
    if h_f is None or film.wafer.film.face is not Face.UP:
        return 0.0, []
    lengths = np.array([d.mean(lambda line: line.change.length) for d in film.directions])
    sensitivity = float(weights @ (8.0 * h_f.value / lengths**2))
    if not profile.u and profile.value == 0.0:
        return 0.0, []
    return sensitivity * profile.value, [
        term("film thickness profile", profile, sensitivity, common_to="recipe film")
    ]
