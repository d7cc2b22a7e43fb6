"""Stress along the scans, and the mean over the area beside the single number.

The single number keeps its meaning, the stress that the fitted parabola reads; what unevenness may
do stands in the budget of the mean over the area and in the band of the profile, as the row "uneven
stress".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.measure import film as outputs
from filmstress.measure.curvatures import as_estimate
from filmstress.measure.directions import Direction
from filmstress.measure.film import Film
from filmstress.measure.shape_along import Along, along
from filmstress.physics import partial_scan
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.physics.partial_scan import BEYOND, LEAST_REACH, PartialScan
from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Estimate, Shape, Source
from filmstress.records.uneven import Neglected, Relation, StressProfile, UnevenStress
from filmstress.stats.budget import combine, merge_shared
from filmstress.stats.budget import scale as scaled

Floats = NDArray[np.float64]

FIT = "curvature fit"
ROW = "uneven stress"
# However even the film looks on the scan, its unseen ring may depart by this share of the mean.
LEAST_BEYOND = 0.05
MATTERS = 0.25
_PLACES = 21
# Orders up to six see bends over about a fifth of the scan.
_RESOLUTION = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class _Reading:
    """One direction's shape read by a relation; curvatures [1/m]."""

    along: Along
    limits: dict[str, Floats]
    mean_limit: float

    @property
    def limit(self) -> Floats:
        """Half-widths of what is left out, combined."""
        square = np.zeros(self.along.x.size)
        for part in self.limits.values():
            square += part**2
        limit: Floats = np.sqrt(square)
        return limit


def uneven_stress(film: Film, told: Estimate) -> UnevenStress | None:
    """Read the stress along every direction and compare the area's mean with the single number.

    Parameters
    ----------
    film : Film
    told : Estimate
        The single number: stress, or force per width where the film's thickness is not stated.

    Returns
    -------
    UnevenStress or None
        None where a line's shape was not looked at (a stated bare bow in place of a scan).
    """
    if any(line.change.shape is None for d in film.directions for line in d.lines):
        return None
    place, because = _placed(film)
    cut = partial_scan.anisotropy(film.plate.reduced)
    readings = [_read(direction, place, cut, film) for direction in film.directions]
    profiles, neglected = [], dict[str, float]()
    for index, reading in enumerate(readings):
        profile, weight = _profile(film, index, reading, told.unit)
        profiles.append(profile)
        for name, limits in reading.limits.items():
            size = abs(weight) * float(limits.max())
            neglected[name] = max(neglected.get(name, 0.0), size)
    mean = difference = None
    significant = large = False
    budget = Budget((), 0.0, math.inf)
    if place is not None:
        mean, budget, difference, significant = _area(film, readings, told)
        large = abs(difference.value) > MATTERS * (told.expanded or 0.0)
    return UnevenStress(
        relation=Relation.LOCAL if place is None else Relation.AXISYMMETRIC,
        because=because,
        profiles=tuple(profiles),
        neglected=tuple(Neglected(name, limit) for name, limit in neglected.items()),
        area_mean=mean,
        difference=difference,
        significant=significant,
        matters=significant or large,
        lines=sum(len(direction.lines) for direction in film.directions),
        odd_share=max(reading.along.odd_share for reading in readings),
        odd_significant=any(reading.along.odd_significant for reading in readings),
        budget=budget,
    )


def _placed(film: Film) -> tuple[PartialScan | None, str]:
    """The scan on its wafer for the axisymmetric relation, or None and why it is not used."""
    diameter, ring = film.wafer.substrate.diameter, film.wafer.film.uncoated_ring
    if diameter is None:
        return None, "the wafer's diameter is not stated"
    radius = diameter.value / 2.0
    edge = 1.0 - ring.value / radius
    reach = min(_half(direction) for direction in film.directions) / radius
    if reach > edge * (1.0 + 1e-6):
        return None, "the scan ends beyond the film's edge: check diameter, ring and origin"
    if reach < LEAST_REACH:
        return None, (
            f"the scan reaches only {max(reach, 0.0):.2f} of the wafer's radius to both sides of "
            f"its centre, and {LEAST_REACH:g} is wanted"
        )
    q11, q12 = isotropic_equivalent(film.plate.reduced)
    place = PartialScan(poisson_ratio=q12 / q11, scan_share=reach**2, film_share=edge**2)
    return place, f"the scan reaches {reach:.2f} of the wafer's radius"


def _ends(direction: Direction) -> tuple[float, float]:
    """Where all scans of a direction have points, in the sense of its azimuth [m]."""
    ends = []
    for line in direction.lines:
        fit = line.change
        middle = fit.centre if math.cos(line.azimuth - direction.azimuth) > 0.0 else -fit.centre
        ends.append((middle - 0.5 * fit.length, middle + 0.5 * fit.length))
    return max(low for low, _ in ends), min(high for _, high in ends)


def _half(direction: Direction) -> float:
    low, high = _ends(direction)
    return min(-low, high)


def _read(direction: Direction, place: PartialScan | None, cut: float, film: Film) -> _Reading:
    low, high = _ends(direction)
    if place is None:
        reach = max(abs(low), abs(high))
        x = np.linspace(low, high, _PLACES)
        found = along(direction, x, partial_scan.plain_row(x / reach), reach=reach)
        q11, q12 = isotropic_equivalent(film.plate.reduced)
        bound = partial_scan.plain_local_bound(
            curvature_range_per_m=float(np.ptp(found.curvature)), poisson_ratio=q12 / q11
        )
        return _Reading(found, {"neighbours and the rest of the film": np.full(x.size, bound)}, 0.0)
    reach = _half(direction)
    x = np.linspace(-reach, reach, _PLACES)
    found = along(direction, x, place.local_row(x / reach), reach=reach, mean_row=place.mean_row())
    departure = float(np.abs(found.even - found.mean).max())
    unseen = max(BEYOND * departure, LEAST_BEYOND * abs(found.mean))
    every = np.ones(x.size)
    limits = {
        "film beyond the scan": every * place.local_beyond * unseen,
        "bending of the cut alike in all directions": every * cut * float(np.ptp(found.even)),
        "odd part": place.odd_doubt * np.abs(found.odd),
    }
    mean_limit = math.hypot(place.mean_beyond * unseen, cut * departure)
    # What is rounding beside the curvature is not a doubt.
    least = 1e-9 * abs(found.mean)
    return _Reading(found, {k: v for k, v in limits.items() if v.max() > least}, mean_limit)


def _profile(film: Film, index: int, reading: _Reading, unit: str) -> tuple[StressProfile, float]:
    """The profile of one direction, and the stress per curvature along it."""
    found, direction = reading.along, film.directions[index]
    output = outputs.stress if unit == "Pa" else outputs.force_per_width
    moduli = film.plain.row.diagonal()

    def shifted(by: float) -> Film:
        # The same equibiaxial force more, as every azimuth shows it.
        force = by * direction.gain * moduli[index]
        changes = [force / modulus for modulus in moduli]
        return _with_changes(film, changes, without_fit=index)

    value, _ = output(film, index)
    probe = max(abs(direction.change), 1e-6)
    weight = (output(shifted(probe), index)[0] - value) / probe
    estimates = []
    length = 0.5 * direction.mean(lambda line: line.change.length)
    for i, x in enumerate(found.x.tolist()):
        here, terms = output(shifted(float(found.curvature[i]) - direction.change), index)
        terms += [
            _fit_term(found.curvature[i], found.u[i], found.dof, weight),
            _limit_term(abs(weight) * float(reading.limit[i]), unit),
        ]
        if unit == "Pa":
            here, terms = _over_local_thickness(film, here, terms, x / length)
        estimates.append(as_estimate(here, unit, combine(merge_shared(terms))))
    profile = StressProfile(
        azimuth=direction.azimuth,
        x=found.x,
        value=np.array([e.value for e in estimates]),
        u=np.array([e.u for e in estimates]),
        low=np.array([e.low for e in estimates]),
        high=np.array([e.high for e in estimates]),
        unit=unit,
        resolution=_RESOLUTION * 2.0 * length,
    )
    return profile, weight


def _over_local_thickness(
    film: Film, value: float, terms: Sequence[Term], place: float
) -> tuple[float, list[Term]]:
    """The force there over the film's thickness there: the stated profile as a parabola.

    Middle minus ends, r, makes a thickness of 1 + r (1/3 - t^2) times its mean over the scan.
    """
    profile = film.wafer.film.thickness_profile
    slope = 1.0 / 3.0 - place**2
    thicker = 1.0 + profile.value * slope
    own = Term(
        input="film thickness profile",
        value=profile.value,
        unit="1",
        u=profile.u or 0.0,
        sensitivity=-value * slope / thicker**2,
        shape=profile.shape,
        common_to=film.wafer.film.thickness_common_to,
        source=profile.source,
    )
    return value / thicker, [*scaled(terms, 1.0 / thicker), own]


def _area(
    film: Film, readings: Sequence[_Reading], told: Estimate
) -> tuple[Estimate, Budget, Estimate, bool]:
    """The mean over the area and its budget; how far it is from the single number, and surely."""
    output = outputs.stress if told.unit == "Pa" else outputs.force_per_width
    shifts = [r.along.mean - d.change for r, d in zip(readings, film.directions, strict=True)]
    value, terms = output(
        _with_changes(
            film,
            [d.gain * shift for d, shift in zip(film.directions, shifts, strict=True)],
            without_fit=None,
        )
    )
    own: list[Term] = []
    parts: list[Term] = []
    limit = 0.0
    single = output(film)[0]
    for i, (reading, direction) in enumerate(zip(readings, film.directions, strict=True)):
        probe = max(abs(direction.change), 1e-6)
        changes = [0.0] * len(readings)
        changes[i] = direction.gain * probe
        weight = (output(_with_changes(film, changes, without_fit=None))[0] - single) / probe
        found = reading.along
        own.append(_fit_term(found.mean, found.mean_u, found.dof, weight, direction.suffix))
        parts.append(_fit_term(found.mean, found.apart_u, found.dof, weight, direction.suffix))
        limit += abs(weight) * reading.mean_limit
    beyond = _limit_term(limit, told.unit)
    budget = combine(merge_shared([*terms, *own, beyond]))
    mean = as_estimate(value, told.unit, budget)
    noise = _between_lines(readings, parts, value - single)
    apart = as_estimate(value - single, told.unit, combine([*noise, beyond]))
    significant = not as_estimate(value - single, told.unit, combine(noise)).holds_zero
    return mean, budget, apart, significant


def _between_lines(
    readings: Sequence[_Reading], parts: list[Term], difference: float
) -> list[Term]:
    """The terms of the fits, or the scatter between the lines where that is larger.

    A drift that bends as a film might is not seen by one line, but it is not alike in several.
    """
    lines = np.concatenate([reading.along.apart for reading in readings])
    if lines.size < 2 or not lines.mean():
        return parts
    # As a share of the mean, so that lines of different moduli may be laid together.
    scatter = abs(difference / float(lines.mean())) * float(lines.std(ddof=1))
    u = scatter / math.sqrt(lines.size)
    if u**2 <= math.fsum(part.contribution**2 for part in parts):
        return parts
    between = replace(
        parts[0], input="scatter between lines", u=u, sensitivity=1.0, dof=lines.size - 1.0
    )
    return [between]


def _with_changes(film: Film, changes: Sequence[float], *, without_fit: int | None) -> Film:
    """The film with other changes of curvature [1/m, of the film alone], some fit terms out.

    ``without_fit`` names the direction that loses them; None: all do.
    """
    directions = []
    for i, (direction, by) in enumerate(zip(film.directions, changes, strict=True)):
        terms = direction.terms
        if without_fit is None or without_fit == i:
            terms = tuple(part for part in terms if not part.input.startswith(FIT))
        directions.append(
            replace(
                direction,
                change=direction.change + by / direction.gain,
                film_change=direction.film_change + by,
                terms=terms,
            )
        )
    return replace(film, directions=tuple(directions))


def _fit_term(curvature: float, u: float, dof: float, weight: float, suffix: str = "") -> Term:
    return Term(
        input="curvature along the scan" + suffix,
        value=float(curvature),
        unit="1/m",
        u=float(u),
        sensitivity=weight,
        dof=dof,
        evaluation="A",
        source=Source.DATA,
    )


def _limit_term(limit: float, unit: str) -> Term:
    return Term(
        input=ROW,
        value=0.0,
        unit=unit,
        u=limit / math.sqrt(3.0),
        sensitivity=1.0,
        shape=Shape.RECTANGULAR,
        source=Source.DATA,
    )
