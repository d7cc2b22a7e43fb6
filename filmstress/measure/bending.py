"""From the change of curvature to the one that the film would make on a linear plate.

A plate that is bent by more than a part of its thickness stiffens: the linear relation then reads
too little force.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from filmstress.errors import MeasurementRefused
from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.measure.weight import Weighed, scans_of, support_changes
from filmstress.physics import deflection
from filmstress.physics.elasticity import azimuth_spread, rotate_reduced
from filmstress.records.budget import Term
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Source
from filmstress.records.wafer import ScanSpec, Support, WaferSpec
from filmstress.stats.budget import scale

# Most wafers are bent too little to need the plate's solution, which is loaded where it is used.
if TYPE_CHECKING:
    from filmstress.physics.supported_plate import Weight
    from filmstress.physics.von_karman import Stiffening

# Corrections smaller than this share of the force are not worth a row.
NEGLIGIBLE = 1e-4
LARGE_DEFLECTION_SHARE = 0.01
# No fit over any window is stiffened by more than about twice K^2.
_STIFFEST = 2.0
# The plate itself is exact to a thousandth; a bare bow that is no sphere is what is left open.
_MODEL_DOUBT = 0.05
# Along the stiff azimuth of a cut like (110) the curvature grows with the force to a maximum and
# then falls: one scan cannot tell the two sides apart.
_UNEVEN_CUT = 0.05
_UNEVEN_END = 0.15


def without_stiffening(directions: Sequence[Direction], wafer: WaferSpec, plate: Plate) -> Weighed:
    """Correct every direction for large deflection.

    The first shape is taken as that of the bare, stress-free wafer.

    Parameters
    ----------
    directions : sequence of Direction
        With the changes that the film made.
    wafer : WaferSpec
        Gives diameter, thickness and support; without a diameter there is a warning in place of
        the correction.
    plate : Plate
        Gives stiffness and density.
    """
    bent = Weighed(tuple(directions))
    thickness = wafer.substrate.thickness.value
    diameter = wafer.substrate.diameter
    longest = max(line.change.length for d in directions for line in d.lines)
    # Without a stated diameter the wafer is taken as half again as wide as the scan is long.
    radius = diameter.value / 2.0 if diameter is not None else 0.75 * longest

    def reduced(curvature: float) -> float:
        return deflection.reduced_curvature(
            curvature_per_m=curvature, wafer_radius_m=radius, substrate_thickness_m=thickness
        )

    most = max(
        _STIFFEST * abs(a * (a + b))
        for a, b in ((reduced(_after(d)), reduced(_before(d))) for d in directions)
    )
    if most < NEGLIGIBLE:
        return bent
    if diameter is None:
        _ask_for_diameter(bent, radius, most)
        # Whatever the wafer's width, it is at least that of the scan.
        narrow = most * (0.5 * longest / radius) ** 4
        if narrow > _STIFFEST:
            bent.refusal = _beyond("the wafer is bent by more than its thickness")
        return bent
    if _tells_too_little(bent.directions, plate, reduced):
        bent.refusal = _beyond(
            "this cut bends more easily along one azimuth than along another, and one azimuth "
            "alone was scanned"
        )
        return bent
    try:
        bent.directions = tuple(
            _corrected(d, wafer, plate, radius, reduced(d.film_change), reduced(_before(d)))
            for d in directions
        )
    except MeasurementRefused as refused:
        bent.refusal = Notice(RefusalCode(refused.code), f"{refused.message}; {refused.hint}")
        return bent
    largest = max((d.corrections[-1].value for d in bent.directions), key=abs)
    if abs(largest) > LARGE_DEFLECTION_SHARE:
        wrong = "small" if largest > 0.0 else "large"
        bent.warnings.append(
            Notice(
                WarningCode.LARGE_DEFLECTION,
                "the wafer is bent so far that a linear plate would read the film's force "
                f"{100 * abs(largest):.1f} % too {wrong}; this is corrected, taking the first "
                "shape as that of the bare, stress-free wafer",
            )
        )
    return bent


def _beyond(why: str) -> Notice:
    return Notice(
        RefusalCode.BEYOND_BIFURCATION,
        f"{why}: from such a bow on a wafer may turn from a bowl into a cylinder-like shape, whose "
        "curvature does not tell the stress; use a thicker or smaller wafer or a thinner film, and "
        "state the diameter",
    )


def _tells_too_little(
    directions: Sequence[Direction], plate: Plate, reduced: Callable[[float], float]
) -> bool:
    """Whether the stiff azimuth's curvature, seen alone, may have passed its maximum."""
    if len(directions) > 1 or azimuth_spread(plate.reduced) < _UNEVEN_CUT:
        return False
    return abs(reduced(_after(directions[0]))) > _UNEVEN_END


def _before(direction: Direction) -> float:
    return direction.mean(lambda line: line.pre_curvature)


def _after(direction: Direction) -> float:
    return _before(direction) + direction.film_change


def _ask_for_diameter(bent: Weighed, radius: float, share: float) -> None:
    bent.directions = tuple(_stiffened(d, 1.0, 1.0, share) for d in bent.directions)
    if share <= LARGE_DEFLECTION_SHARE:
        return
    bent.warnings.append(
        Notice(
            WarningCode.LARGE_DEFLECTION,
            "the wafer may be bent so far that the linear plate reads too little stress, by up to "
            f"{100 * share:.1f} % were it {2e3 * radius:.0f} mm wide; state its diameter to have "
            "this corrected",
        )
    )


def _corrected(
    direction: Direction,
    wafer: WaferSpec,
    plate: Plate,
    radius: float,
    change: float,
    before: float,
) -> Direction:
    from filmstress.physics.von_karman import stiffening

    fit = direction.lines[0].change
    low = max((fit.centre - fit.length / 2.0) / radius, -1.0)
    high = min((fit.centre + fit.length / 2.0) / radius, 1.0)
    along = rotate_reduced(plate.reduced, direction.azimuth)

    def with_weight(weight: Weight | None) -> Stiffening:
        return stiffening(
            reduced_pa=along,
            window_low=low,
            window_high=high,
            reduced_change=change,
            reduced_before=before,
            weight=weight,
        )

    number = direction.numbers[0]
    _, scan = scans_of(wafer, number)
    weight = _weight(scan, wafer, plate, radius, direction)
    told = with_weight(weight)
    doubt = _MODEL_DOUBT * abs(told.factor - 1.0)
    unsure = scan.support in (None, Support.FLAT_STAGE) or support_changes(wafer, number)
    if unsure and plate.density is not None:
        # Somewhere between a free wafer and one on its rim.
        rim = with_weight(_on_ring(1.0, wafer, plate, radius))
        doubt = math.hypot(doubt, (rim.factor - told.factor) / math.sqrt(3.0))
    return _stiffened(direction, told.factor, told.gain, doubt)


def _weight(
    scan: ScanSpec, wafer: WaferSpec, plate: Plate, radius: float, direction: Direction
) -> Weight | None:
    """The wafer's weight on the support of both scans, where that is known."""
    if plate.density is None or support_changes(wafer, direction.numbers[0]):
        return None
    if scan.support is Support.RIM:
        return _on_ring(1.0, wafer, plate, radius)
    if scan.support is Support.CENTRE:
        return _on_ring(0.0, wafer, plate, radius)
    if scan.support is Support.THREE_POINTS and scan.support_radius is not None:
        ring = _on_ring(min(scan.support_radius.value / radius, 1.0), wafer, plate, radius)
        if scan.support_azimuth is None:
            return ring
        return replace(ring, points_azimuth_rad=scan.support_azimuth.value - direction.azimuth)
    return None


def _on_ring(place: float, wafer: WaferSpec, plate: Plate, radius: float) -> Weight:
    from filmstress.physics.supported_plate import Weight, reduced_load

    load = reduced_load(
        density_kg_per_m3=plate.density or 0.0,
        thickness_m=wafer.substrate.thickness.value,
        wafer_radius_m=radius,
        reduced_pa=plate.reduced,
    )
    return Weight(load, place)


def _stiffened(direction: Direction, factor: float, gain: float, doubt: float) -> Direction:
    term = Term(
        input="large deflection",
        value=factor - 1.0,
        unit="1",
        u=doubt,
        sensitivity=direction.film_change,
        common_to="plate theory",
        source=Source.TABLE,
    )
    return replace(
        direction,
        film_change=direction.film_change * factor,
        gain=direction.gain * gain,
        stiffening=gain / factor - 1.0,
        corrections=(*scale(direction.corrections, gain), term),
    )
