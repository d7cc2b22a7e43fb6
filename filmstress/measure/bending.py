"""From the change of curvature to the one that the film would make on a linear plate.

A plate that is bent by more than a part of its thickness stiffens: the linear relation then reads
too little force.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from filmstress.errors import MeasurementRefused
from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.measure.weight import Weighed, scans_of, support_changes
from filmstress.physics import deflection
from filmstress.physics.elasticity import azimuth_spread, rotate_reduced
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureFit
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Shape, Source
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
# Of cuts whose bending depends on azimuth by less, a rim takes less than this share.
_NO_SPHERE = 1e-3
# A wafer whose diameter is not stated: its width over the least that its scan allows.
_WIDEST = 1.5


def without_stiffening(directions: Sequence[Direction], wafer: WaferSpec, plate: Plate) -> Weighed:
    """Correct every direction for large deflection.

    The first shape is taken as that of the bare, stress-free wafer.

    Parameters
    ----------
    directions : sequence of Direction
        With the changes that the film made.
    wafer : WaferSpec
        Gives diameter, thickness and support; without a diameter the correction lies between
        those for a wafer just as wide as its scan and for one half again as wide.
    plate : Plate
        Gives stiffness and density.
    """
    bent = Weighed(tuple(directions))
    thickness = wafer.substrate.thickness.value
    diameter = wafer.substrate.diameter
    if diameter is not None:
        narrow = radius = diameter.value / 2.0
    else:
        # It is at least as wide as the scan reaches; it is taken as up to half again as wide.
        narrow = max(_reach(line.change) for d in directions for line in d.lines)
        radius = _WIDEST * narrow

    def reduced(curvature: float) -> float:
        return deflection.reduced_curvature(
            curvature_per_m=curvature, wafer_radius_m=radius, substrate_thickness_m=thickness
        )

    most = max(
        _STIFFEST * abs(a * (a + b))
        for a, b in ((reduced(_after(d)), reduced(_before(d))) for d in directions)
    )
    # Two sags stretch the wafer differently, also where the film bends it little; and so does a
    # rim bend a wafer that would not lie on it.
    numbers = [number for direction in directions for number in direction.numbers]
    changed = any(support_changes(wafer, number) for number in numbers)
    rim = any(_may_lift_off(wafer, number, plate) for number in numbers)
    if most < NEGLIGIBLE and not changed and not rim:
        return bent
    if diameter is None and most <= LARGE_DEFLECTION_SHARE and not rim:
        bent.directions = tuple(
            _stiffened(d, _Bent(d.film_change, 1.0, most * abs(d.film_change)), wafer.id)
            for d in directions
        )
        return bent
    if _tells_too_little(bent.directions, plate, reduced):
        bent.refusal = _beyond(
            "this cut bends more easily along one azimuth than along another, and one azimuth "
            "alone was scanned"
        )
        return bent
    try:
        bent.directions = tuple(_corrected(d, wafer, plate, narrow, radius) for d in directions)
    except MeasurementRefused as refused:
        unstated = "" if diameter is not None else f" (were it {_wide(radius)})"
        bent.refusal = Notice(
            RefusalCode(refused.code), f"{refused.message}{unstated}; {refused.hint}"
        )
        return bent
    shares = (
        now.film_change / was.film_change - 1.0 if was.film_change else 0.0
        for now, was in zip(bent.directions, directions, strict=True)
    )
    largest = max(shares, key=abs)
    bent.warnings += _large(largest, None if diameter is not None else (narrow, radius))
    return bent


def _reach(fit: CurvatureFit) -> float:
    return abs(fit.centre) + 0.5 * fit.length


def _wide(radius: float) -> str:
    return f"{2e3 * radius:.0f} mm wide"


def _large(share: float, unstated: tuple[float, float] | None) -> Iterator[Notice]:
    """What a correction of this share is about; ``unstated``: the radii it may lie between."""
    if abs(share) <= LARGE_DEFLECTION_SHARE:
        return
    wrong = "small" if share > 0.0 else "large"
    shape = "taking the first shape as that of the bare, stress-free wafer"
    if unstated is not None:
        shape += (
            f", and the wafer as between {_wide(unstated[0])} and {_wide(unstated[1])}: state its "
            "diameter"
        )
    yield Notice(
        WarningCode.LARGE_DEFLECTION,
        "the wafer is bent so far that a linear plate would read the film's force "
        f"{100 * abs(share):.1f} % too {wrong}; this is corrected, {shape}",
    )


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


@dataclass(frozen=True, slots=True)
class _Bent:
    """What the film would make on a linear plate, its slope, and two doubts [1/m, 1, 1/m, 1/m].

    ``lift`` is that of a wafer that may lift off its rim.
    """

    film_change: float
    gain: float
    doubt: float
    lift: float = 0.0


def _corrected(
    direction: Direction, wafer: WaferSpec, plate: Plate, narrow: float, radius: float
) -> Direction:
    """The direction of a wafer of this radius; where ``narrow`` is less, of one in between."""
    wide = _bent(direction, wafer, plate, radius)
    if narrow == radius:
        return _stiffened(direction, wide, wafer.id)
    least = _bent(direction, wafer, plate, narrow)
    middle = _Bent(
        0.5 * (least.film_change + wide.film_change),
        0.5 * (least.gain + wide.gain),
        max(least.doubt, wide.doubt),
        max(least.lift, wide.lift),
    )
    change = wide.film_change - least.film_change
    unknown = Term(
        input="diameter",
        value=narrow + radius,
        unit="m",
        u=(radius - narrow) / math.sqrt(3.0),
        sensitivity=0.5 * change / (radius - narrow),
        shape=Shape.RECTANGULAR,
        common_to=wafer.named,
        source=Source.DEFAULT,
    )
    told = _stiffened(direction, middle, wafer.id)
    return replace(told, corrections=(*told.corrections, unknown))


def _bent(direction: Direction, wafer: WaferSpec, plate: Plate, radius: float) -> _Bent:
    from filmstress.physics.von_karman import stiffening

    fit = direction.lines[0].change
    low = max((fit.centre - fit.length / 2.0) / radius, -1.0)
    high = min((fit.centre + fit.length / 2.0) / radius, 1.0)
    along = rotate_reduced(plate.reduced, direction.azimuth)
    thickness = wafer.substrate.thickness.value
    to_reduced = deflection.reduced_curvature(
        curvature_per_m=1.0, wafer_radius_m=radius, substrate_thickness_m=thickness
    )

    def with_weights(before: Weight | None, after: Weight | None) -> Stiffening:
        return stiffening(
            reduced_pa=along,
            window_low=low,
            window_high=high,
            reduced_change=to_reduced * direction.film_change,
            reduced_before=to_reduced * _before(direction),
            weight_before=before,
            weight_after=after,
        )

    first, second = scans_of(wafer, direction.numbers[0])
    after = _weight(second, wafer, plate, radius, direction)
    # A bare bow that is stated is that of a free wafer.
    before = None if first is None else _weight(first, wafer, plate, radius, direction)
    told = with_weights(before, after)
    film_change, gain = told.film_change / to_reduced, told.gain
    doubt, lift = _MODEL_DOUBT * abs(film_change - direction.film_change), 0.0
    if _may_lift_off(wafer, direction.numbers[0], plate):
        # The film bends it to no sphere: a heavy wafer lies level on the rim all the same, a light
        # one lifts off.  The ends are likelier than the middle (arcsine, JCGM 101:2008, 6.4.6).
        loose = with_weights(*(one and replace(one, level=False) for one in (before, after)))
        apart = 0.5 * (loose.film_change / to_reduced - film_change)
        film_change, gain = film_change + apart, 0.5 * (gain + loose.gain)
        lift = abs(apart) / math.sqrt(2.0)
    if second.support in (None, Support.FLAT_STAGE) and plate.density is not None:
        # Somewhere between a free wafer and one on its rim.
        rim = _on_ring(1.0, wafer, plate, radius)
        other = with_weights(rim, rim).film_change / to_reduced
        doubt = math.hypot(doubt, (other - film_change) / math.sqrt(3.0))
    return _Bent(film_change, gain, doubt, lift)


def _may_lift_off(wafer: WaferSpec, number: int, plate: Plate) -> bool:
    """Whether a scan's rim carries a wafer that an even film does not bend to a sphere."""
    scans = scans_of(wafer, number)
    on_rim = any(scan is not None and scan.support is Support.RIM for scan in scans)
    return on_rim and plate.density is not None and azimuth_spread(plate.reduced) > _NO_SPHERE


def _weight(
    scan: ScanSpec, wafer: WaferSpec, plate: Plate, radius: float, direction: Direction
) -> Weight | None:
    """The wafer's weight on the support of a scan, where that is known."""
    if plate.density is None:
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


def _stiffened(direction: Direction, bent: _Bent, wafer_id: str) -> Direction:
    was, now, gain = direction.film_change, bent.film_change, bent.gain
    term = Term(
        input="large deflection",
        value=now - was,
        unit="1/m",
        u=bent.doubt,
        sensitivity=1.0,
        common_to="plate theory",
        source=Source.TABLE,
    )
    off_rim = Term(
        input="lift off the rim" + direction.suffix,
        value=0.0,
        unit="1/m",
        u=bent.lift,
        sensitivity=1.0,
        shape=Shape.RECTANGULAR,
        common_to=f"wafer {wafer_id}",
        source=Source.DEFAULT,
    )
    return replace(
        direction,
        film_change=now,
        gain=direction.gain * gain,
        stiffening=gain * was / now - 1.0 if now else 0.0,
        corrections=(*scale(direction.corrections, gain), term, *([off_rim] if bent.lift else [])),
    )
