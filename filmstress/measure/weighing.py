"""The film by the wafer's own weight: bare scans on two supports in place of Q h_s^2.

The weight tells one number, the stiffness Q h_s^2 that this instrument sees over the stated one.
Force and stress by weight are the ordinary ones times it; a combination takes a power of it
between 0 and 1.  So everything is propagated in two parts, the ordinary output and the logarithm
of the ratio, and what they share (thickness, height scale, modulus) cancels by itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.inputs.keys import WEIGHINGS
from filmstress.measure import film as outputs
from filmstress.measure.curvatures import as_estimate
from filmstress.measure.film import Film, gauge_terms
from filmstress.measure.lines import FIRST, SECOND, measure_lines
from filmstress.measure.plate import Plate
from filmstress.measure.stiffness_ratio import WILD_RATIO, StiffnessRatio
from filmstress.measure.verdicts import on_files
from filmstress.measure.weighed_line import WeighedLine
from filmstress.measure.weight import Profile, change_of_sag, fitted_curvature
from filmstress.physics import weight_calibration as physics
from filmstress.physics.gravity import STANDARD_GRAVITY
from filmstress.records.budget import Budget, Term
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.quantity import Measured
from filmstress.records.scan import ScanSource
from filmstress.records.wafer import LineSpec, State, WaferSpec
from filmstress.records.weighing import Calibrated, WeightCalibration
from filmstress.scans.stage import StageDatum
from filmstress.stats.budget import combine, merge_shared, scale
from filmstress.substrates.catalogue import find_cut

Floats = NDArray[np.float64]
Files = tuple[tuple[str, ScanSource], ...]

# The scans' noise is judged with the expected sag taken out, as large as it proves to be.
_GOOD_START, _PASSES = 0.002, 4


@dataclass(slots=True)
class Told:
    """What the bare scans came to; ``found`` is None where they cannot calibrate."""

    found: WeightCalibration | None = None
    files: Files = ()
    warnings: list[Notice] = field(default_factory=list)


def by_weight(film: Film, *, setting: str = "balanced", stage: StageDatum | None = None) -> Told:
    """Force and stress with the wafer's own weight in place of its stated stiffness.

    Parameters
    ----------
    film : Film
        The ordinary result's; its wafer names the bare scans.
    setting : str
        Setting of the noise model.
    stage : StageDatum, optional
        The stage's straightness, for scans whose datum is "from-lot".

    Raises
    ------
    ScanError
        If a file cannot be read.
    """
    told = Told()
    if any(direction.sag for direction in film.directions):
        return _unusable(told, "the film's own two scans lie on different supports")
    try:
        lines, told.files = _lines(film.wafer, film.plate, setting, stage)
    except MeasurementRefused as refused:
        return _unusable(told, str(refused))
    told.warnings += _remarks(lines, told.files)
    ratio = StiffnessRatio(film, lines)
    if (why := ratio.useless()) is not None:
        return _unusable(told, why)
    told.found = _calibration(film, ratio)
    if not told.found.agrees:
        told.warnings.append(_differs(told.found, film))
    return told


def _unusable(told: Told, why: str) -> Told:
    told.warnings.append(
        Notice(WarningCode.WEIGHT_UNUSABLE, f"the wafer's weight calibrates nothing here: {why}")
    )
    return told


def _lines(
    wafer: WaferSpec, plate: Plate, setting: str, stage: StageDatum | None
) -> tuple[tuple[WeighedLine, ...], Files]:
    """Measure the bare scans as if they were a film's, second support after first."""
    numbers = [number for number, line in enumerate(wafer.lines) if line.weight]
    bare = replace(
        wafer,
        lines=tuple(_as_pair(wafer.lines[number].weight) for number in numbers),
        film=replace(wafer.film, uncoated_ring=Measured(0.0, "m", 0.0)),
        bare_bow=None,
    )
    density = wafer.substrate.density
    if density is None:
        density = find_cut(wafer.substrate.material or "").density.measured()
    heavier = density.value / (plate.density or density.value)
    heavier *= wafer.gravity.value / STANDARD_GRAVITY

    def measured(size: float) -> tuple[list[WeighedLine], Files]:
        def known(number: int) -> Profile | None:
            sag = change_of_sag(bare, number, plate)
            return None if sag is None else lambda x: np.asarray(size * sag(x))

        changes, files = measure_lines(bare, setting=setting, stage=stage, known=known)
        lines: list[WeighedLine] = []
        for number, change in zip(numbers, changes, strict=True):
            line = WeighedLine(wafer, plate, density, number, change)
            sag = known(len(lines))
            taken = 0.0 if sag is None else fitted_curvature(sag, change.change)
            lines.append(replace(line, seen=change.change.curvature + taken))
        return lines, files

    found: list[WeighedLine] = []
    files: Files = ()
    size, ratio = 0.0, 1.0
    for _ in range(_PASSES):
        if abs(size * ratio - heavier) <= _GOOD_START * heavier:
            break
        size = heavier / ratio
        found, files = measured(size)
        ratio = _ratio_of(found)
        if not 1.0 / WILD_RATIO < ratio < WILD_RATIO:
            break
    if 1.0 / WILD_RATIO < ratio < WILD_RATIO:
        found = [_with_stretching(line, ratio) for line in found]
    labels = dict(zip((FIRST, SECOND), WEIGHINGS, strict=True))
    return tuple(found), tuple((labels.get(state, state), source) for state, source in files)


def _as_pair(weight: Sequence[State]) -> LineSpec:
    first, second = (state.scan for state in weight)
    return LineSpec((State(FIRST, first), State(SECOND, second)))


def _ratio_of(lines: Sequence[WeighedLine]) -> float:
    seen = math.fsum(line.seen for line in lines)
    expected = math.fsum(line.expected for line in lines)
    return expected / seen if seen else math.inf


def _with_stretching(line: WeighedLine, ratio: float) -> WeighedLine:
    """The sag's own stretching goes with the bending that is seen, not with the stated one."""
    first = line.support(line.scans[0])
    lying = physics.weight_curvature(line.weighed(), first, line.along()) / ratio
    return replace(
        line,
        stretched=line.stretching(
            thickness_m=line.wafer.substrate.thickness.value * math.sqrt(ratio),
            bare_curvature_per_m=line.change.pre_curvature - lying,
        ),
    )


def _remarks(lines: Sequence[WeighedLine], files: Files) -> Iterator[Notice]:
    told = [*on_files(files), *(notice for line in lines for notice in line.change.warnings)]
    for notice in dict.fromkeys(told):
        yield replace(notice, message=f"bare scans on two supports: {notice.message}")


def _calibration(film: Film, ratio: StiffnessRatio) -> WeightCalibration:
    own, relative = ratio.own_budget(), ratio.terms()
    estimate = as_estimate(ratio.value, "1", own)
    shared = _SharedScans(film, ratio.lines)

    def calibrated(power: float) -> tuple[Calibrated, float, float]:
        """Force and stress times p^power; and the force and its u."""

        def beside(change: Floats) -> float:
            return power * ratio.slope(change)

        # A combination lies between the two on the straight line.
        factor = 1.0 + power * (ratio.value - 1.0)

        def output(value: float, terms: list[Term]) -> tuple[float, Budget]:
            both = [*shared.of_film(terms), *shared.of_weight(scale(relative, power * value))]
            return factor * value, combine(scale(merge_shared(both), factor))

        force, budget = output(*outputs.force_per_width(film, beside=beside))
        told, u = as_estimate(force, "N/m", budget), budget.u
        stress = None
        if film.wafer.film.thickness is not None:
            mean, budget = output(*outputs.stress(film, beside=beside))
            stress = as_estimate(mean, "Pa", budget)
        return Calibrated(told, stress, budget), force, u

    weighed, _, u_weighed = calibrated(1.0)
    _, plain, u_plain = calibrated(0.0)
    expanded = (estimate.k or 2.0) * own.u
    difference = (ratio.value - 1.0) / expanded
    combined, share = None, None
    if abs(difference) <= 1.0:
        share = _best_share(u_plain, u_weighed / ratio.value, abs(plain) * own.u / ratio.value)
        combined, _, _ = calibrated(share)
    thickness = film.wafer.substrate.thickness.value * math.sqrt(ratio.value)
    without = combine(row.term for row in own.rows if row.term.input != "substrate thickness")
    line, n = ratio.lines[0], len(ratio.lines)
    seen = [
        *ratio.fit_terms(1.0 / n),
        *(
            part
            for one in ratio.lines
            for part in gauge_terms(one.scans[1], one.seen / n, " of the weight")
        ),
    ]
    return WeightCalibration(
        by_weight=weighed,
        combined=combined,
        weight_share=share,
        stiffness_ratio=estimate,
        ratio_budget=own,
        thickness_seen=as_estimate(
            thickness, "m", combine(scale(_of(without), 0.5 * thickness / ratio.value))
        ),
        change_seen=as_estimate(ratio.seen / n, "1/m", combine(merge_shared(seen))),
        change_expected=ratio.expected / n,
        equal_force=physics.equal_force(
            line.expected,
            reduced_pa=line.along(),
            thickness_m=film.wafer.substrate.thickness.value,
        ),
        normalised_difference=difference,
        stretched=max((one.stretched for one in ratio.lines), key=abs),
        lines=tuple(one.change for one in ratio.lines),
    )


def _of(budget: Budget) -> list[Term]:
    return [row.term for row in budget.rows]


def _best_share(u_plain: float, u_weighed: float, u_ratio: float) -> float:
    """Share of the weight in the weighted mean with least variance, what is shared respected.

    var(v) = var(0) + 2 v c + v^2 var(ratio); beyond 0 and 1 one of the two is best alone.
    """
    if u_ratio == 0.0:
        return 0.0
    covariance = 0.5 * (u_weighed**2 - u_plain**2 - u_ratio**2)
    return min(max(-covariance / u_ratio**2, 0.0), 1.0)


def _differs(found: WeightCalibration, film: Film) -> Notice:
    stated = 1e6 * film.wafer.substrate.thickness.value
    ratio = found.stiffness_ratio.value
    return Notice(
        WarningCode.WEIGHT_DIFFERS,
        f"under its own weight the wafer bends as if it were {ratio:.3f} times as stiff as stated "
        f"({1e6 * found.thickness_seen.value:.0f} um thick, not {stated:.0f} um), which is "
        f"{abs(found.normalised_difference):.1f} times what the uncertainties allow; check "
        "thickness, cut, supports and height scale before either stress is used",
    )


class _SharedScans:
    """Where the scan before deposition is one of the bare scans, its noise stands in both."""

    def __init__(self, film: Film, lines: Sequence[WeighedLine]) -> None:
        self._film: dict[str, str] = {}
        self._weight: dict[str, tuple[str, float]] = {}
        for line in lines:
            before = film.wafer.lines[line.number].states[0].scan
            paths = [scan.path for scan in line.scans]
            if before.path is None or before.path not in paths:
                continue
            # Both changes hold it with the same sign where it is the first one of the weight.
            sign = 1.0 if paths[0] == before.path else -1.0
            suffix = f", line {line.number + 1}" if len(lines) > 1 else ""
            for name in ("curvature fit", "bow repeatability"):
                shared = f"{name} of the scan before{suffix}"
                self._film[name + _suffix(film, line.number)] = shared
                self._weight[f"bare scans, {name}{suffix}"] = shared, sign

    def of_film(self, terms: Sequence[Term]) -> Iterator[Term]:
        for one in terms:
            yield from _halves(one, self._film.get(one.input), 1.0)

    def of_weight(self, terms: Sequence[Term]) -> Iterator[Term]:
        for one in terms:
            yield from _halves(one, *self._weight.get(one.input, (None, 1.0)))


def _halves(one: Term, shared: str | None, sign: float) -> Iterator[Term]:
    """Half of a difference's variance is that of one of its scans."""
    if shared is None:
        yield one
        return
    half = replace(one, u=one.u / math.sqrt(2.0))
    yield half
    yield replace(half, input=shared, sensitivity=sign * one.sensitivity, common_to="one scan")


def _suffix(film: Film, number: int) -> str:
    """What a line's own terms are called by, beside their input."""
    for direction in film.directions:
        if number in direction.numbers:
            if len(direction.lines) == 1:
                return direction.suffix
            return f"{direction.suffix} #{direction.numbers.index(number) + 1}"
    return ""
