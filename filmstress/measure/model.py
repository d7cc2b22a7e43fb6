"""The measurement as a function of all its inputs at once, for propagating distributions.

The equations are those of `filmstress.measure.film`, which gives their derivatives at the best
estimates; a test holds the two together.  Not linear here: both thicknesses, the scales, the film's
modulus and thickness as a factor, large deflection, the weight's sag, the film's own profile, and
all products (a modulus times a curvature).  Linear, as far as they are uncertain at all: the
plate's answer to each constant and to the azimuth, what adds to a curvature, and any row of the
budget that this file does not know.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from filmstress.measure import film as first_order
from filmstress.measure.directions import Direction
from filmstress.measure.film import Film
from filmstress.physics import bilayer, deflection
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.records.budget import Term
from filmstress.records.quantity import Measured, Shape
from filmstress.records.wafer import Face
from filmstress.stats.budget import combine, merge_shared
from filmstress.stats.coverage import whole_dof
from filmstress.stats.draws import Variate

Floats = NDArray[np.float64]
Key = tuple[str, str]

_RELAXED, _MISMATCH = "relaxed", "mismatch"
_AZIMUTH, _SUBSTRATE, _FILM = "cut and azimuth", "substrate thickness", "film thickness"
_RATIO, _PROFILE, _DIAMETER = "film modulus over substrate's", "film thickness profile", "diameter"


@dataclass(slots=True)
class _Inputs:
    """Variates by name, in the order in which they were met."""

    own: str
    variates: dict[Key, Variate] = field(default_factory=dict)

    def add(
        self, input: str, common_to: str, *, dof: float = math.inf, shape: Shape = Shape.NORMAL
    ) -> int:
        """Row of an input; what nothing else shares is this wafer's own."""
        key = (input, common_to or self.own)
        known = self.variates.get(key)
        if known is not None:
            # As in a merged budget: the fewest degrees of freedom.
            dof, shape = min(dof, known.dof), known.shape
        self.variates[key] = Variate(*key, shape=shape, dof=dof)
        return list(self.variates).index(key)

    def of(self, term: Term) -> int:
        """Row of a budget term's input."""
        return self.add(term.input, term.common_to, dof=term.dof, shape=term.shape)

    def stated(self, input: str, common_to: str, measured: Measured) -> int:
        """Row of a stated input."""
        return self.add(input, common_to, dof=measured.dof, shape=measured.shape)


@dataclass(frozen=True, slots=True)
class _Reading:
    """A curvature as a gauge reads it [1/m], with the rows of the gauge's two scales."""

    curvature: float
    position: tuple[int, float]
    height: tuple[int, float]


@dataclass(frozen=True, slots=True)
class _Line:
    """What a direction's curvature is made of: (row, standard uncertainty [1/m]) of each part."""

    noise: tuple[tuple[int, float], ...]
    readings: tuple[_Reading, ...]
    corrections: tuple[tuple[int, float], ...]
    growth: float


class MeasurementModel:
    """Stress, force per width and mismatch stress of a wafer, as functions of reduced inputs.

    Calling it with reduced inputs ((X - estimate) / u), shape (inputs, draws), gives the outputs,
    shape (outputs, draws).

    Parameters
    ----------
    film : Film

    Attributes
    ----------
    names : tuple of str
        Of the outputs: "stress" [Pa] where the film's thickness is stated, "force_per_width"
        [N/m], "stress_mismatch" [Pa] where its modulus is stated too.
    variates : tuple of Variate
        What the rows of the inputs are.
    """

    def __init__(self, film: Film) -> None:
        self._film = film
        self._inputs = _Inputs(film.wafer.named)
        self._response = film.normal.mean()
        self._pooled: set[str] = set()
        self._lines = [self._line(direction) for direction in film.directions]
        self._plate = self._plate_rows()
        wafer, common = film.wafer, self._inputs.own
        shared = wafer.film.thickness_common_to
        self._h_s = self._stated(
            _SUBSTRATE, wafer.substrate.thickness_common_to, wafer.substrate.thickness
        )
        self._h_f = self._stated(_FILM, shared, wafer.film.thickness)
        self._diameter = self._stated(_DIAMETER, common, wafer.substrate.diameter)
        self._ratio = (0, 0.0)
        if wafer.film.thickness is not None:
            self._ratio = self._stated(_RATIO, shared, film.modulus_ratio)
        self._profile = self._stated(_PROFILE, shared, self._own_profile())
        self._known = self._pooled | {name for name, _ in self._inputs.variates}
        self._outputs = dict(self._made_of())
        self.names = tuple(self._outputs)
        self.variates = tuple(self._inputs.variates.values())

    def __call__(self, reduced: Floats) -> Floats:
        """Outputs [Pa or N/m], shape (outputs, draws), for reduced inputs (inputs, draws)."""
        film, wafer = self._film, self._film.wafer
        thickness = wafer.substrate.thickness.value
        h_s = thickness + self._off(self._h_s, reduced)
        width = np.ones(1)
        if wafer.substrate.diameter is not None:
            width = 1.0 + self._off(self._diameter, reduced) / wafer.substrate.diameter.value
        row = self._row(reduced)
        slenderness = width**2 * (thickness / h_s)
        film_changes = [
            self._film_change(direction, line, slenderness, reduced)
            for direction, line in zip(film.directions, self._lines, strict=True)
        ]
        # The weight's force depends neither on the thickness nor on the modulus.
        sags = np.array([direction.sag * direction.gain for direction in film.directions])
        weight = thickness**2 * float(self._response.row @ sags) * width**2
        bending = sum(
            part * (change + sag)
            for part, change, sag in zip(row, film_changes, sags.tolist(), strict=True)
        )
        linear = film.face_sign / 6.0 * (h_s**2 * bending - weight)
        factors, h_f = {_RELAXED: np.ones(1)}, np.ones(1)
        if wafer.film.thickness is not None:
            h_f = wafer.film.thickness.value + self._off(self._h_f, reduced)
            factors = self._factors(h_f / h_s, row, reduced)
            # A dome of the film itself, which is taken out again.
            risen = self._own_profile().value + self._off(self._profile, reduced)
            lengths = [d.mean(lambda line: line.change.length) for d in film.directions]
            dome = sum(p / length**2 for p, length in zip(row, lengths, strict=True))
            linear = linear + film.face_sign / 6.0 * h_s**2 * 8.0 * h_f * risen * dome
        found = np.empty((len(self.names), reduced.shape[1]))
        for place, (name, (kind, rest)) in zip(found, self._outputs.items(), strict=True):
            np.multiply(linear, factors[kind], out=place)
            if name != "force_per_width":
                place /= h_f
            for at, size in rest:
                place += size * reduced[at]
        return found

    def _stated(self, name: str, common_to: str, measured: Measured | None) -> tuple[int, float]:
        """Row and standard uncertainty of an input; (0, 0) where it is exact or not there."""
        if measured is None or not measured.u:
            return 0, 0.0
        return self._inputs.stated(name, common_to, measured), measured.u

    @staticmethod
    def _off(part: tuple[int, float], reduced: Floats) -> Floats:
        """Deviation of an input from its estimate."""
        at, u = part
        return u * reduced[at] if u else np.zeros(1)

    def _line(self, direction: Direction) -> _Line:
        film = self._film
        readings = []
        for number, line in zip(direction.numbers, direction.lines, strict=True):
            for scan, curvature, state in first_order.gauge_readings(
                film.wafer, number, line, direction.sag
            ):
                position, height = first_order.gauge_terms(scan, 1.0, state)
                readings.append(
                    _Reading(
                        curvature / len(direction.lines),
                        (self._inputs.of(position), position.u / position.value),
                        (self._inputs.of(height), height.u / height.value),
                    )
                )
        return _Line(
            noise=self._noise(direction),
            readings=tuple(readings),
            corrections=self._parts(direction.corrections),
            growth=self._growth(direction),
        )

    def _noise(self, direction: Direction) -> tuple[tuple[int, float], ...]:
        """What adds to a direction's curvature; with repeats, their mean is one quantity.

        Its degrees of freedom are the repeats' less one, as for any mean of observations.  What
        scatters between repeats is not drawn beside what each scan says of itself: it is known as
        a difference of variances only, and has no distribution with degrees of its own.
        """
        if len(direction.lines) == 1:
            return self._parts(direction.terms)
        own = combine(term for term in direction.terms if not term.common_to)
        self._pooled |= {row.term.input for row in own.rows}
        shared = self._parts(term for term in direction.terms if term.common_to)
        if own.u == 0.0:
            return shared
        name = f"mean of repeats, {math.degrees(direction.azimuth):.4g} deg"
        return (*shared, (self._inputs.add(name, "", dof=whole_dof(own.dof)), own.u))

    def _parts(self, terms: Iterable[Term]) -> tuple[tuple[int, float], ...]:
        return tuple(
            (self._inputs.of(term), term.sensitivity * term.u)
            for term in terms
            if term.contribution
        )

    def _growth(self, direction: Direction) -> float:
        """Second coefficient of the stiffening by the curvature [m^2], from the series."""
        substrate = self._film.wafer.substrate
        if direction.stiffening == 0.0 or substrate.diameter is None:
            return 0.0
        radius, fit = substrate.diameter.value / 2.0, direction.lines[0].change
        q11, q12 = isotropic_equivalent(self._film.plate.reduced)
        coefficient = deflection.fit_coefficient(
            poisson_ratio=q12 / q11,
            window_low=max((fit.centre - fit.length / 2.0) / radius, -1.0),
            window_high=min((fit.centre + fit.length / 2.0) / radius, 1.0),
        )
        return coefficient * (radius**2 / (4.0 * substrate.thickness.value)) ** 2

    def _plate_rows(self) -> tuple[tuple[int, Floats], ...]:
        """Row of every constant and of the azimuth, with what u of it adds to the response."""
        film, rows = self._film, []
        for number, (source, slope) in enumerate(self._response.slopes):
            name = f"{source.row} #{number}"
            at = self._inputs.stated(name, film.plate.common_to, source.measured)
            rows.append((at, slope * (source.measured.u or 0.0)))
        azimuth = film.wafer.lines[0].azimuth
        if azimuth.u:
            at = self._inputs.stated(_AZIMUTH, self._inputs.own, azimuth)
            rows.append((at, self._response.turn * azimuth.u))
        scale = 1e-9 * np.abs(self._response.row).max()
        return tuple((at, size) for at, size in rows if np.abs(size).max() > scale)

    def _own_profile(self) -> Measured:
        film = self._film.wafer.film
        seen = film.thickness is not None and film.face is Face.UP
        return film.thickness_profile if seen else Measured(0.0, "1", 0.0)

    def _made_of(self) -> Iterable[tuple[str, tuple[str, tuple[tuple[int, float], ...]]]]:
        """Outputs: their factor, and the rows of their budgets that are linear and not known."""
        film = self._film
        makers: list[tuple[str, str, Callable[[Film], tuple[float, list[Term]]]]] = []
        if film.wafer.film.thickness is not None:
            makers.append(("stress", _RELAXED, first_order.stress))
        makers.append(("force_per_width", _RELAXED, first_order.force_per_width))
        if film.wafer.film.thickness is not None and film.film_modulus is not None:
            makers.append(("stress_mismatch", _MISMATCH, first_order.stress_mismatch))
        for name, kind, maker in makers:
            _, terms = maker(film)
            yield name, (kind, self._parts(self._others(terms)))

    def _others(self, terms: Sequence[Term]) -> list[Term]:
        constants = {source.row for source, _ in self._response.slopes}
        known = self._known | constants | {_DIAMETER, _AZIMUTH, _RATIO}
        return [term for term in merge_shared(terms) if term.input not in known]

    def _row(self, reduced: Floats) -> list[Floats]:
        """The plate's response, one array a direction [Pa]."""
        rows = []
        for number, value in enumerate(self._response.row.tolist()):
            row = np.full(reduced.shape[1], value)
            for at, size in self._plate:
                row += float(size[number]) * reduced[at]
            rows.append(row)
        return rows

    def _film_change(
        self, direction: Direction, line: _Line, slenderness: Floats, reduced: Floats
    ) -> Floats:
        """What the film alone would make on a linear plate, with stiffening taken out [1/m]."""
        change = np.zeros(reduced.shape[1])
        for at, size in line.noise:
            change += size * reduced[at]
        # Noise is read by the gauge as well; where there are several, by the last.
        for number, reading in enumerate(line.readings, start=1):
            height = 1.0 + reading.height[1] * reduced[reading.height[0]]
            scale = height / (1.0 + reading.position[1] * reduced[reading.position[0]]) ** 2
            if number == len(line.readings):
                change *= scale
            scale -= 1.0
            change += reading.curvature * scale
        gain, rise = direction.gain, direction.stiffening
        bent = direction.film_change * (1.0 + rise) / gain
        change += bent
        if rise:
            off = change * slenderness - bent
            change *= 1.0 + off * ((rise / bent if bent else 0.0) + line.growth * off)
        change *= gain / (1.0 + rise)
        for at, size in line.corrections:
            change += size * reduced[at]
        return change

    def _factors(
        self, thickness_ratio: Floats, row: Sequence[Floats], reduced: Floats
    ) -> dict[str, Floats]:
        """What multiplies the force of Stoney's equation."""
        film = self._film
        ratio = film.modulus_ratio.value + self._off(self._ratio, reduced)
        if film.film_modulus is not None:
            # M_s is what the row makes of the change.
            bent = film.bending_changes
            usual = float(self._response.row @ bent)
            if usual:
                ratio = ratio * usual / sum(p * b for p, b in zip(row, bent.tolist(), strict=True))
        place = {"thickness_ratio": thickness_ratio, "modulus_ratio": ratio}
        factors = {_RELAXED: bilayer.relaxed_over_stoney(**place)}
        if "stress_mismatch" in self.names:
            factors[_MISMATCH] = bilayer.mismatch_over_stoney(**place)
        return factors
