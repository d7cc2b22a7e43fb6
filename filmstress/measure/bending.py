"""From the measured change of curvature to the one that the film alone makes on a linear plate.

Two things stand between them: the wafer's own weight, where the two scans lie on different
supports, and the stiffening of a plate that is bent by more than a part of its thickness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.physics import deflection, gravity
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.records.budget import Term
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Shape, Source
from filmstress.records.wafer import ScanSpec, Support, WaferSpec

# Corrections smaller than this share of the force are not worth a row.
NEGLIGIBLE = 1e-4
LARGE_DEFLECTION_SHARE = 0.01
# On crystals the coefficient is that of an equivalent isotropic plate.
_CRYSTAL_DOUBT = 0.15
_ISOTROPIC_DOUBT = 0.02
# How well the sag couples into the stiffening is known only roughly.
_SAG_COUPLING_DOUBT = 0.5
# Anisotropic plates sag up to 1 % beside the equivalent isotropic one, on rings and points.
_SAG_MODEL_DOUBT = 0.01
_SERIES_END = 1.0
_SAG_SMALL = 0.2
_PROFILED = {Support.THREE_POINTS, Support.RIM, Support.CENTRE}


@dataclass(slots=True)
class Bent:
    """Directions with the film's own change of curvature, and what there is to say."""

    directions: tuple[Direction, ...]
    warnings: list[Notice] = field(default_factory=list)
    refusal: Notice | None = None


def without_weight_and_stiffening(
    directions: Sequence[Direction], wafer: WaferSpec, plate: Plate
) -> Bent:
    """Correct every direction for gravity and large deflection, as far as it is known how.

    Parameters
    ----------
    directions : sequence of Direction
        With the measured changes.
    wafer : WaferSpec
        Gives supports, diameter, thickness.
    plate : Plate
        Gives stiffness and density.
    """
    bent = Bent(tuple(directions))
    _take_out_weight(bent, wafer, plate)
    if bent.refusal is None:
        _take_out_stiffening(bent, wafer, plate)
    return bent


def _supports(wafer: WaferSpec, number: int) -> tuple[ScanSpec | None, ScanSpec]:
    """Conditions of the first and the last state of a line."""
    states = [state.scan for state in wafer.lines[number].states]
    before = states[0] if len(states) > 1 and states[0].path is not None else None
    return before, states[-1]


def _same_support(before: ScanSpec, after: ScanSpec) -> bool:
    def place(scan: ScanSpec) -> tuple[object, ...]:
        radius, azimuth = scan.support_radius, scan.support_azimuth
        return (
            scan.support,
            None if radius is None else radius.value,
            None if azimuth is None else azimuth.value,
        )

    return place(before) == place(after)


def _take_out_weight(bent: Bent, wafer: WaferSpec, plate: Plate) -> None:
    before, after = _supports(wafer, 0)
    flat = any(s is not None and s.support is Support.FLAT_STAGE for s in (before, after))
    if flat:
        _judge_flat_stage(bent, wafer, plate)
        return
    if before is not None and _same_support(before, after):
        return
    if before is None and after.support in (None, Support.FREE):
        # A stated bare bow is that of a free wafer.
        return
    unknown = [s for s in (before, after) if s is not None and s.support is None]
    if unknown or wafer.substrate.diameter is None or plate.density is None:
        what = "one of them is not stated" if unknown else "the wafer's diameter or density is not"
        bent.refusal = Notice(
            RefusalCode.SUPPORT_UNKNOWN,
            f"the two scans were taken on different supports, and {what}: the wafer's own weight "
            "bends it by a different amount in each, often more than the film does; scan both on "
            "the same support, or state support, support_radius and diameter",
        )
        return
    bent.directions = tuple(_less_sag(d, before, after, wafer, plate) for d in bent.directions)


def _sag(
    scan: ScanSpec | None, direction: Direction, wafer: WaferSpec, plate: Plate, *, widen: float = 1.0
) -> tuple[float, float]:
    """Curvature that gravity adds to the fit of one scan [1/m], and the doubt about it."""
    if scan is None or scan.support not in _PROFILED:
        return 0.0, 0.0
    diameter = wafer.substrate.diameter
    assert diameter is not None and plate.density is not None
    radius = diameter.value / 2.0
    fit = direction.lines[0].change
    low, high = fit.centre - fit.length / 2.0, fit.centre + fit.length / 2.0

    def at(azimuth: float, support_radius: float | None) -> float:
        return gravity.fit_curvature(
            scan.support.value if scan.support else "rim",
            density_kg_per_m3=plate.density or 0.0,
            thickness_m=wafer.substrate.thickness.value,
            wafer_radius_m=radius,
            reduced_pa=plate.reduced,
            window_low_m=max(low, -radius),
            window_high_m=min(high, radius),
            support_radius_m=support_radius,
            azimuth_rad=azimuth,
        )

    if scan.support is not Support.THREE_POINTS:
        return at(0.0, None), 0.0
    points = scan.support_radius
    place = radius if points is None else points.value * widen
    if scan.support_azimuth is not None:
        return at(direction.azimuth - scan.support_azimuth.value, place), 0.0
    # Not stated how the points lie to the scan: between its two extremes.
    ends = at(0.0, place), at(math.pi / 6.0, place)
    return 0.5 * (ends[0] + ends[1]), abs(ends[0] - ends[1]) / 2.0 / math.sqrt(3.0)


def _less_sag(
    direction: Direction,
    before: ScanSpec | None,
    after: ScanSpec,
    wafer: WaferSpec,
    plate: Plate,
) -> Direction:
    """The direction's change without what the change of support made."""
    (sag_before, doubt_before) = _sag(before, direction, wafer, plate)
    (sag_after, doubt_after) = _sag(after, direction, wafer, plate)
    parts = [doubt_before, doubt_after, _SAG_MODEL_DOUBT * sag_before, _SAG_MODEL_DOUBT * sag_after]
    for scan, here in ((before, sag_before), (after, sag_after)):
        radius = None if scan is None else scan.support_radius
        if radius is not None and radius.u:
            wider = _sag(scan, direction, wafer, plate, widen=1.0 + radius.u / radius.value)[0]
            parts.append(wider - here)
    sag = sag_after - sag_before
    # Sag goes as 1/h^2; the thickness enters the stress as h^2 too, so its row there shrinks by
    # this much, which is left as a part of the doubt.
    thickness = wafer.substrate.thickness
    parts.append(2.0 * sag * (thickness.u or 0.0) / thickness.value)
    term = Term(
        input="support and gravity" + direction.suffix,
        value=sag,
        unit="1/m",
        u=math.hypot(*parts),
        sensitivity=-1.0,
        common_to=f"wafer {wafer.id}",
        source=Source.STATED,
    )
    return replace(
        direction,
        film_change=direction.film_change - sag,
        corrections=(*direction.corrections, term),
    )


def _judge_flat_stage(bent: Bent, wafer: WaferSpec, plate: Plate) -> None:
    """On a flat stage the contact is not known; the sag must be small against the film's bow."""
    diameter = wafer.substrate.diameter
    if diameter is None or plate.density is None:
        bent.refusal = Notice(
            RefusalCode.FLAT_STAGE_SAG,
            "on a flat stage the wafer's own weight flattens it by an amount that depends on its "
            "diameter; state the diameter (and the density of a substrate outside the table), or "
            "scan on three points",
        )
        return
    radius = diameter.value / 2.0
    limit = gravity.flip_curvature(
        density_kg_per_m3=plate.density,
        thickness_m=wafer.substrate.thickness.value,
        wafer_radius_m=radius,
        reduced_pa=plate.reduced,
    )
    smallest = min(abs(direction.change) for direction in bent.directions)
    share = limit / smallest if smallest else math.inf
    if share > _SAG_SMALL:
        bent.refusal = Notice(
            RefusalCode.FLAT_STAGE_SAG,
            f"on a flat stage the wafer's own weight can bend it by {limit:.2g} 1/m, against "
            f"{smallest:.2g} 1/m that was found: the film's share cannot be told; scan on three "
            "points, both times on the same ones",
        )
        return
    bent.warnings.append(
        Notice(
            WarningCode.SAG_NOT_SMALL,
            f"on a flat stage the wafer's own weight may take up to {share:.1%} of the film's bow; "
            "it is in the budget; three points would not need it",
        )
    )
    term = Term(
        input="support and gravity",
        value=0.0,
        unit="1/m",
        u=limit / math.sqrt(3.0),
        sensitivity=1.0,
        shape=Shape.RECTANGULAR,
        common_to=f"wafer {wafer.id}",
        source=Source.DEFAULT,
    )
    bent.directions = tuple(
        replace(d, corrections=(*d.corrections, replace(term, input=term.input + d.suffix)))
        for d in bent.directions
    )


def _take_out_stiffening(bent: Bent, wafer: WaferSpec, plate: Plate) -> None:
    thickness = wafer.substrate.thickness.value
    diameter = wafer.substrate.diameter
    lines = [line for direction in bent.directions for line in direction.lines]
    longest = max(line.change.length for line in lines)
    # Without a stated diameter the wafer is taken as half again as wide as the scan is long.
    radius = diameter.value / 2.0 if diameter is not None else 0.75 * longest

    def reduced(curvature: float) -> float:
        return deflection.reduced_curvature(
            curvature_per_m=curvature, wafer_radius_m=radius, substrate_thickness_m=thickness
        )

    before = reduced(float(np.mean([line.pre_curvature for line in lines])))
    growth = reduced(float(np.mean([d.film_change for d in bent.directions])))
    sag = _sag_reduced(bent, wafer, plate, reduced_scale=reduced(1.0))
    q11, q12 = isotropic_equivalent(plate.reduced)
    fit = lines[0].change
    low, high = fit.centre - fit.length / 2.0, fit.centre + fit.length / 2.0
    coefficient = deflection.fit_coefficient(
        poisson_ratio=q12 / q11,
        window_low=max(low / radius, -1.0),
        window_high=min(high / radius, 1.0),
    )

    def share_with(start: float) -> float:
        return (
            deflection.force_over_linear(
                coefficient=coefficient, reduced_before=start, reduced_after=start + growth
            )
            - 1.0
        )

    share, coupled = share_with(before), share_with(before + sag)
    rest = deflection.remainder(
        coefficient=coefficient, reduced_curvature=max(abs(before + growth), abs(growth))
    )
    if max(abs(share), abs(coupled)) < NEGLIGIBLE:
        return
    if diameter is None:
        if abs(share) > LARGE_DEFLECTION_SHARE:
            bent.warnings.append(
                Notice(
                    WarningCode.LARGE_DEFLECTION,
                    "the wafer may be bent so far that the linear plate reads too little stress, "
                    f"by {abs(share):.1%} were it {2e3 * radius:.0f} mm wide; state its diameter "
                    "to have this corrected",
                )
            )
            _add_stiffening(bent, 0.0, abs(share), 0.0)
        return
    _refuse_beyond(bent, growth * (1.0 + coupled), plate)
    if bent.refusal is not None:
        return
    isotropic = bool(abs(plate.reduced[2, 2] - 0.5 * (q11 - q12)) < 1e-6 * q11)
    doubt = math.hypot(
        coupled * (_ISOTROPIC_DOUBT if isotropic else _CRYSTAL_DOUBT),
        (coupled - share) * _SAG_COUPLING_DOUBT,
        rest / 2.0 / math.sqrt(3.0),
    )
    _add_stiffening(bent, coupled + rest / 2.0, doubt, coefficient)
    if abs(coupled) > LARGE_DEFLECTION_SHARE:
        bent.warnings.append(
            Notice(
                WarningCode.LARGE_DEFLECTION,
                f"the wafer is bent so far that the linear plate reads {coupled:+.1%} beside the "
                "film's force; this is corrected, taking the first shape as that of the bare, "
                "stress-free wafer",
            )
        )


def _sag_reduced(bent: Bent, wafer: WaferSpec, plate: Plate, *, reduced_scale: float) -> float:
    """The sag on the support as K, where it is known: it couples into the stiffening."""
    _, after = _supports(wafer, 0)
    if wafer.substrate.diameter is None or plate.density is None:
        return 0.0
    return _sag(after, bent.directions[0], wafer, plate)[0] * reduced_scale


def _refuse_beyond(bent: Bent, reduced_force: float, plate: Plate) -> None:
    _, critical = deflection.bifurcation(plate.reduced)
    end = min(critical, _SERIES_END)
    if abs(reduced_force) > end:
        bent.refusal = Notice(
            RefusalCode.BEYOND_BIFURCATION,
            f"the wafer is bent to S = {abs(reduced_force):.2f}, and from S = {end:.2f} on it turns "
            "from a bowl into a cylinder-like shape whose curvature does not tell the stress; use "
            "a thicker or smaller wafer, or a thinner film",
        )


def _add_stiffening(bent: Bent, share: float, doubt: float, coefficient: float) -> None:
    changed = []
    for direction in bent.directions:
        term = Term(
            input="large deflection" + direction.suffix,
            value=share,
            unit="1",
            u=doubt,
            sensitivity=direction.film_change,
            common_to="plate theory",
            source=Source.TABLE if coefficient else Source.DEFAULT,
        )
        changed.append(
            replace(
                direction,
                film_change=direction.film_change * (1.0 + share),
                gain=direction.gain * (1.0 + share),
                corrections=(*direction.corrections, term),
            )
        )
    bent.directions = tuple(changed)
