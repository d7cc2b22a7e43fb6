"""Plan a measurement: trials through the whole chain, and what could be done otherwise."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator
from dataclasses import replace

from filmstress.errors import RefusedInput
from filmstress.measure.plate import Plate, plate_of
from filmstress.physics.bow import bow, curvature
from filmstress.physics.deflection import linear_shortfall, reduced_curvature
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.planning.chances import chances_of, least_told_from_zero
from filmstress.planning.trial import film_curvature, trial
from filmstress.records.budget import Budget
from filmstress.records.plan import Chances, Change, Instrument, Plan
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.records.wafer import Support, WaferSpec
from filmstress.stats.budget import combine
from filmstress.stats.coverage import estimate, whole_dof

TRIALS = 9
# Of what is only compared.
_FEWER = 5
# What an input can usually be measured to with care: common practice, no source.
REACHABLE: dict[str, tuple[float, bool]] = {
    "substrate thickness": (1e-6, False),  # [m]
    "film thickness": (0.005, True),  # of its value
    "height scale": (0.001, False),
    "position scale": (0.0002, False),
    "film thickness profile": (0.003, False),
    "diameter": (0.1e-3, False),
}
_REPEATS = 4
_LONGEST = 0.95  # of the diameter
_WORTH = 0.02  # a change of U by less is not worth a line


def plan(
    wafer: WaferSpec,
    instrument: Instrument,
    *,
    stress_pa: float,
    lower: float | None = None,
    upper: float | None = None,
    confidence: float = 0.95,
    setting: str = "balanced",
) -> Plan:
    """What a measurement would tell.

    Parameters
    ----------
    wafer : WaferSpec
        As for a measurement; its paths are only names.
    instrument : Instrument
    stress_pa : float
        The stress to plan for [Pa]; force per width [N/m] where the film has no thickness.
    lower, upper, confidence : float, optional
        Limits on the stress [Pa].
    setting : str
        Setting of the noise model.

    Raises
    ------
    RefusedInput
        A scan longer than the wafer, or inputs that a measurement would refuse.

    Notes
    -----
    Several trials are drawn, each a whole measurement of scans with the stated noise; the budget
    is that of the trial with the median uncertainty.
    """
    diameter = wafer.substrate.diameter
    if diameter is not None and instrument.length_m > diameter.value:
        raise RefusedInput(
            f"a scan of {1e3 * instrument.length_m:.4g} mm is longer than the wafer is wide "
            f"({1e3 * diameter.value:.4g} mm)",
            where="--length",
            hint="state a shorter one",
        )
    middle = _median(wafer, instrument, stress_pa, setting, TRIALS)
    told = middle.stress or middle.force_per_width
    refusal = middle.refusal
    u, dof = middle.budget.u, middle.budget.dof
    unit = "Pa" if wafer.film.thickness is not None else "N/m"
    found = estimate(stress_pa, unit, u=u, dof=whole_dof(dof)) if told is None else told
    found = _about(stress_pa, found)
    at_zero = _median(wafer, instrument, 0.0, setting).budget
    plate = plate_of(wafer.substrate)
    changes = [film_curvature(wafer, stress_pa, line.azimuth.value) for line in wafer.lines]
    largest = max(changes, key=abs)
    bow_change = bow(curvature_per_m=largest, length_m=instrument.length_m)
    highest = max(abs(instrument.bare_bow_m), abs(instrument.bare_bow_m + bow_change))
    deflection, stiffening = _deflection(wafer, instrument, plate, largest)
    limited = lower is not None or upper is not None

    def chances(spread: float, freedom: float) -> Chances | None:
        if not limited:
            return None
        return chances_of(
            stress_pa, u=spread, dof=freedom, lower=lower, upper=upper, confidence=confidence
        )

    otherwise = [*_by_inputs(middle.budget), *_by_scanning(wafer, instrument, stress_pa, setting)]
    worth = [
        Change(what, now, then, of, _expanded(budget), chances(budget.u, budget.dof))
        for what, now, then, of, budget in otherwise
        if _expanded(budget) < (1.0 - _WORTH) * _expanded(middle.budget) or what in _ALWAYS
    ]
    return Plan(
        wafer=wafer,
        instrument=instrument,
        expected=stress_pa,
        stress=found,
        budget=middle.budget,
        trials=TRIALS,
        bow_change=bow_change,
        bow_after=instrument.bare_bow_m + bow_change,
        fits=None if instrument.height_range_m is None else highest <= instrument.height_range_m,
        deflection=deflection,
        stiffening=stiffening,
        sag=_sag(wafer, instrument, plate),
        least_stress=least_told_from_zero(at_zero.u, dof=at_zero.dof),
        chances=chances(u, dof),
        lower=lower,
        upper=upper,
        confidence=confidence,
        changes=tuple(sorted(worth, key=lambda change: change.expanded)),
        warnings=middle.warnings,
        refusal=refusal,
    )


_ALWAYS = ("scan length", "repeats")


def _median(
    wafer: WaferSpec,
    instrument: Instrument,
    stress_pa: float,
    setting: str,
    trials: int = _FEWER,
) -> StressResult:
    """The trial with the median expanded uncertainty."""
    results = [
        trial(wafer, instrument, stress_pa=stress_pa, seed=seed, setting=setting)
        for seed in range(trials)
    ]
    middle = statistics.median_low(_expanded(one.budget) for one in results)
    return next(one for one in results if _expanded(one.budget) == middle)


def _expanded(budget: Budget) -> float:
    return estimate(0.0, "1", u=budget.u, dof=whole_dof(budget.dof)).expanded or 0.0


def _about(value: float, found: Estimate) -> Estimate:
    """The interval that was found, moved to the expected value."""
    shift = value - found.value
    return replace(
        found,
        value=value,
        low=None if found.low is None else found.low + shift,
        high=None if found.high is None else found.high + shift,
    )


Otherwise = tuple[str, float, float, str, Budget]


def _by_inputs(budget: Budget) -> Iterator[Otherwise]:
    """Each stated input known as well as it usually can be."""
    for name, (best, is_relative) in REACHABLE.items():
        terms = [row.term for row in budget.rows if row.term.input == name]
        if not terms:
            continue
        then = best * abs(terms[0].value) if is_relative else best
        if then >= terms[0].u:
            continue
        others = [row.term for row in budget.rows]
        changed = [
            replace(term, u=then, dof=math.inf) if term.input == name else term for term in others
        ]
        yield name, terms[0].u, then, terms[0].unit, combine(changed)


def _by_scanning(
    wafer: WaferSpec, instrument: Instrument, stress_pa: float, setting: str
) -> Iterator[Otherwise]:
    """More scans, and longer ones."""
    more = replace(instrument, repeats=_REPEATS * instrument.repeats)
    found = _median(wafer, more, stress_pa, setting)
    yield "repeats", instrument.repeats, more.repeats, "1", found.budget
    diameter = wafer.substrate.diameter
    if diameter is None:
        return
    longest = _LONGEST * (diameter.value - 2.0 * wafer.film.uncoated_ring.value)
    if longest > 1.05 * instrument.length_m:
        stretch = longest / instrument.length_m
        longer = replace(
            instrument,
            length_m=longest,
            points=round(instrument.points * stretch),
            bare_bow_m=instrument.bare_bow_m * stretch**2,
        )
        found = _median(wafer, longer, stress_pa, setting)
        yield "scan length", instrument.length_m, longest, "m", found.budget


def _deflection(
    wafer: WaferSpec, instrument: Instrument, plate: Plate, change: float
) -> tuple[float | None, float | None]:
    """S of the film force, and how much the plate stiffens over the scan."""
    diameter = wafer.substrate.diameter
    if diameter is None:
        return None, None
    radius, thickness = 0.5 * diameter.value, wafer.substrate.thickness.value
    size = reduced_curvature(
        curvature_per_m=change, wafer_radius_m=radius, substrate_thickness_m=thickness
    )
    q11, q12 = isotropic_equivalent(plate.reduced)
    more = linear_shortfall(
        curvature_change_per_m=change,
        curvature_before_per_m=curvature(bow_m=instrument.bare_bow_m, length_m=instrument.length_m),
        wafer_radius_m=radius,
        substrate_thickness_m=thickness,
        scan_length_m=instrument.length_m,
        poisson_ratio=q12 / q11,
    )
    return abs(size), more


def _sag(wafer: WaferSpec, instrument: Instrument, plate: Plate) -> float | None:
    """Curvature of the fitted sag on the stated support [1/m]."""
    from filmstress.physics import gravity

    diameter, scan = wafer.substrate.diameter, wafer.lines[0].states[-1].scan
    if diameter is None or plate.density is None or scan.support is None:
        return None
    if scan.support not in (Support.RIM, Support.CENTRE, Support.THREE_POINTS):
        return None
    if scan.support is Support.THREE_POINTS and scan.support_radius is None:
        return None
    half = 0.5 * instrument.length_m
    return gravity.fit_curvature(
        scan.support.value,
        density_kg_per_m3=plate.density,
        thickness_m=wafer.substrate.thickness.value,
        wafer_radius_m=0.5 * diameter.value,
        reduced_pa=plate.reduced,
        window_low_m=-half,
        window_high_m=half,
        support_radius_m=None if scan.support_radius is None else scan.support_radius.value,
    )
