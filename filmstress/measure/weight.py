"""The wafer's own weight: what a change of support makes of a scan, as far as that is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.physics.elasticity import isotropic_equivalent, rotate_reduced
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureFit
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.wafer import ScanSpec, Support, WaferSpec

# The equations of sag are loaded where they are used: most scans share one support.
Floats = NDArray[np.float64]
Profile = Callable[[Floats], Floats]

# Of the sag's scale q R^2/(8 D): what the anisotropic plate leaves open.
_MODEL_DOUBT = 0.01
# On a flat stage the sag may take at most this share of the film's bow.
_SMALL = 0.2
_PROFILED = {Support.THREE_POINTS, Support.RIM, Support.CENTRE}


def scans_of(wafer: WaferSpec, number: int) -> tuple[ScanSpec | None, ScanSpec]:
    """Conditions of the first state's scan (None where there is none) and the last one's."""
    states = [state.scan for state in wafer.lines[number].states]
    before = states[0] if len(states) > 1 and states[0].path is not None else None
    return before, states[-1]


def support_changes(wafer: WaferSpec, number: int) -> bool:
    """Whether the two scans of a line were taken on different supports."""
    before, after = scans_of(wafer, number)
    if before is None:
        # A stated bare bow is that of a free wafer.
        return after.support not in (None, Support.FREE)
    return _place(before) != _place(after)


def _place(scan: ScanSpec) -> tuple[object, ...]:
    radius, azimuth = scan.support_radius, scan.support_azimuth
    return (
        scan.support,
        None if radius is None else radius.value,
        None if azimuth is None else azimuth.value,
    )


def _on_flat_stage(wafer: WaferSpec) -> bool:
    return any(
        state.scan.support is Support.FLAT_STAGE and state.scan.path is not None
        for line in wafer.lines
        for state in line.states
    )


def unknown_weight(wafer: WaferSpec, plate: Plate) -> Notice | None:
    """Why the wafer's weight cannot be taken out where it has to be, known before any scan."""
    if _on_flat_stage(wafer):
        if wafer.substrate.diameter is not None and plate.density is not None:
            return None
        return Notice(
            RefusalCode.FLAT_STAGE_SAG,
            "on a flat stage the wafer's own weight flattens it by an amount that depends on its "
            "diameter; state the diameter (and the density of a substrate outside the table), or "
            "scan on three points",
        )
    for number in range(len(wafer.lines)):
        if not support_changes(wafer, number):
            continue
        before, after = scans_of(wafer, number)
        scans = [scan for scan in (before, after) if scan is not None]
        if any(scan.support is None for scan in scans):
            what = "one of them is not stated"
        elif any(s.support is Support.THREE_POINTS and s.support_radius is None for s in scans):
            what = "the radius of the three points is not stated"
        elif wafer.substrate.diameter is None or plate.density is None:
            what = "the wafer's diameter or density is not stated"
        else:
            continue
        if before is None:
            return Notice(
                RefusalCode.SUPPORT_UNKNOWN,
                "the stated bare bow is taken as that of a free wafer, but the scan was taken on "
                f"a support on which its weight bends it, and {what}: state support_radius, "
                "diameter (and the density of a substrate outside the table), so that the sag "
                "can be taken out",
            )
        return Notice(
            RefusalCode.SUPPORT_UNKNOWN,
            f"the two scans were taken on different supports, and {what}: the wafer's own weight "
            "bends it by a different amount in each, often more than the film does; scan both on "
            "the same support, or state support, support_radius and diameter",
        )
    return None


def sag_profile(
    wafer: WaferSpec, scan: ScanSpec | None, plate: Plate, azimuth_rad: float
) -> Profile | None:
    """Heights [m] that the weight adds to a scan, by position along its line [m].

    None where the support carries the wafer without sag or its sag is not known.
    """
    from filmstress.physics import gravity

    diameter = wafer.substrate.diameter
    if scan is None or scan.support not in _PROFILED or diameter is None or plate.density is None:
        return None
    radius = diameter.value / 2.0
    q11, q12 = isotropic_equivalent(plate.reduced)
    size = gravity.sag_scale(
        density_kg_per_m3=plate.density,
        thickness_m=wafer.substrate.thickness.value,
        wafer_radius_m=radius,
        reduced_pa=plate.reduced,
    )
    points = scan.support_radius
    if scan.support_azimuth is not None:
        angles = [azimuth_rad - scan.support_azimuth.value]
    else:
        # Not stated how the points lie to the scan: the mean of the two extremes.
        angles = [0.0, math.pi / 6.0] if scan.support is Support.THREE_POINTS else [0.0]

    def heights(x: Floats) -> Floats:
        # The profile is smooth: a few hundred places and straight lines between them will do.
        grid = np.linspace(-1.0, 1.0, 513)
        mean = np.mean(
            [
                gravity.unit_heights(
                    scan.support.value if scan.support else "",
                    grid,
                    poisson_ratio=q12 / q11,
                    support_radius=1.0 if points is None else points.value / radius,
                    azimuth_rad=angle,
                )
                for angle in angles
            ],
            axis=0,
        )
        return np.asarray(size * np.interp(x / radius, grid, mean))

    return heights


def change_of_sag(wafer: WaferSpec, number: int, plate: Plate) -> Profile | None:
    """Heights [m] that a change of support adds to after minus before, for one line."""
    if not support_changes(wafer, number):
        return None
    azimuth = wafer.lines[number].azimuth.value
    before, after = (sag_profile(wafer, scan, plate, azimuth) for scan in scans_of(wafer, number))
    if before is None and after is None:
        return None

    def heights(x: Floats) -> Floats:
        zero = np.zeros_like(x)
        return (after(x) if after else zero) - (before(x) if before else zero)

    return heights


def sag_curvature(
    wafer: WaferSpec, scan: ScanSpec | None, plate: Plate, direction: Direction
) -> float:
    """Curvature [1/m] of the parabola fitted to the sag over a direction's fitted stretch."""
    profile = sag_profile(wafer, scan, plate, direction.azimuth)
    if profile is None:
        return 0.0
    return fitted_curvature(profile, direction.lines[0].change)


def fitted_curvature(profile: Profile, fit: CurvatureFit) -> float:
    """Curvature [1/m] of the parabola fitted evenly to a profile over the stretch of a fit."""
    from filmstress.stats.least_squares import fit_polynomial

    x = np.linspace(fit.centre - fit.length / 2.0, fit.centre + fit.length / 2.0, 1001)
    return float(2.0 * fit_polynomial(x, profile(x), degree=2).coefficients[2])


@dataclass(slots=True)
class Weighed:
    """Directions with the weight's part in their budget, and what there is to say about it."""

    directions: tuple[Direction, ...]
    warnings: list[Notice] = field(default_factory=list)
    refusal: Notice | None = None


def weigh(directions: Sequence[Direction], wafer: WaferSpec, plate: Plate) -> Weighed:
    """Put into the budget what taking out the weight leaves open; judge a flat stage.

    The sag itself was taken out of the difference before it was fitted.
    """
    if _on_flat_stage(wafer):
        return _on_stage(directions, wafer, plate)
    return Weighed(tuple(_with_doubt(direction, wafer, plate) for direction in directions))


def _with_doubt(direction: Direction, wafer: WaferSpec, plate: Plate) -> Direction:
    """The direction with what is left open; repeats on other supports count with their share."""
    found = [_of_line(direction, number, wafer, plate) for number in direction.numbers]
    n = len(found)
    sag = math.fsum(one.sag for one in found) / n
    beside = math.fsum(one.crystal for one in found) / n
    # The same supports and plate stand behind all repeats, so their doubts do not average away.
    doubt = math.fsum(one.doubt for one in found) / n
    if doubt == 0.0:
        return direction
    term = Term(
        input="support and gravity" + direction.suffix,
        value=sag + beside,
        unit="1/m",
        u=doubt,
        sensitivity=-1.0,
        common_to=wafer.named,
        source=Source.STATED,
    )
    return replace(
        direction,
        film_change=direction.film_change - beside,
        sag=sag + beside,
        corrections=(*direction.corrections, term),
    )


@dataclass(frozen=True, slots=True)
class _LineSag:
    """Change of sag of one line, isotropic part and the crystal's own, and the doubt [1/m]."""

    sag: float = 0.0
    crystal: float = 0.0
    doubt: float = 0.0


def _of_line(direction: Direction, number: int, wafer: WaferSpec, plate: Plate) -> _LineSag:
    if not support_changes(wafer, number):
        before, after = scans_of(wafer, number)
        if before is None and after.support is None:
            return _LineSag(doubt=_unstated_sag(wafer, plate, direction))
        return _LineSag()
    scans = scans_of(wafer, number)
    sags = [sag_curvature(wafer, scan, plate, direction) for scan in scans]
    crystal = [_crystal_sag(wafer, scan, plate, direction) for scan in scans]
    scale = _sag_scale(wafer, plate)
    parts = [_MODEL_DOUBT * scale for sag in sags if sag]
    for scan, sag in zip(scans, sags, strict=True):
        if scan is not None:
            parts += [
                sag_curvature(wafer, changed, plate, direction) - sag
                for changed in _neighbours(scan, direction.azimuth)
            ]
    return _LineSag(sags[1] - sags[0], crystal[1] - crystal[0], math.hypot(*parts))


def _unstated_sag(wafer: WaferSpec, plate: Plate, direction: Direction) -> float:
    """A stated bare bow is that of a free wafer; the scan's unstated support may make it sag."""
    diameter = wafer.substrate.diameter
    if diameter is None or plate.density is None:
        return 0.0
    ends = [
        sag_curvature(wafer, replace(scan, support=support), plate, direction)
        for scan in scans_of(wafer, direction.numbers[0])[1:]
        if scan is not None
        for support in (Support.RIM, Support.CENTRE)
    ]
    return max(map(abs, ends)) / math.sqrt(3.0)


def _crystal_sag(
    wafer: WaferSpec, scan: ScanSpec | None, plate: Plate, direction: Direction
) -> float:
    """What the crystal's directions add to the fitted sag of an isotropic plate [1/m]."""
    from filmstress.physics import gravity, supported_plate

    diameter = wafer.substrate.diameter
    if scan is None or scan.support not in _PROFILED or diameter is None or plate.density is None:
        return 0.0
    radius = diameter.value / 2.0
    fit = direction.lines[0].change
    azimuth = 0.0
    if scan.support_azimuth is not None:
        azimuth = direction.azimuth - scan.support_azimuth.value
    crystal, isotropic = (
        sag_of(
            scan.support.value,
            density_kg_per_m3=plate.density,
            thickness_m=wafer.substrate.thickness.value,
            wafer_radius_m=radius,
            reduced_pa=rotate_reduced(plate.reduced, direction.azimuth),
            window_low_m=max(fit.centre - fit.length / 2.0, -radius),
            window_high_m=min(fit.centre + fit.length / 2.0, radius),
            support_radius_m=None if scan.support_radius is None else scan.support_radius.value,
            azimuth_rad=azimuth,
        )
        for sag_of in (supported_plate.fit_curvature, gravity.fit_curvature)
    )
    return crystal - isotropic


def _sag_scale(wafer: WaferSpec, plate: Plate) -> float:
    """Size of sag curvatures, q R^2/(8 D) [1/m]."""
    from filmstress.physics import gravity

    diameter = wafer.substrate.diameter
    if diameter is None or plate.density is None:
        return 0.0
    radius = diameter.value / 2.0
    height = gravity.sag_scale(
        density_kg_per_m3=plate.density,
        thickness_m=wafer.substrate.thickness.value,
        wafer_radius_m=radius,
        reduced_pa=plate.reduced,
    )
    return height / radius**2 / 8.0


def _neighbours(scan: ScanSpec, azimuth_rad: float) -> list[ScanSpec]:
    """The same scan with its support moved by a standard uncertainty."""
    changed = []
    radius, azimuth = scan.support_radius, scan.support_azimuth
    if radius is not None and radius.u:
        changed.append(replace(scan, support_radius=replace(radius, value=radius.value - radius.u)))
    if scan.support is Support.THREE_POINTS:
        if azimuth is not None and azimuth.u:
            turned = replace(azimuth, value=azimuth.value + azimuth.u)
            changed.append(replace(scan, support_azimuth=turned))
        elif azimuth is None:
            # One of the two extremes; its distance from the mean is the half-width.
            extreme = Measured(azimuth_rad, "rad", 0.0)
            changed.append(replace(scan, support_azimuth=extreme))
    return changed


def _on_stage(directions: Sequence[Direction], wafer: WaferSpec, plate: Plate) -> Weighed:
    """On a flat stage the contact is not known; the sag must be small against the film's bow."""
    from filmstress.physics import gravity

    weighed = Weighed(tuple(directions))
    diameter = wafer.substrate.diameter
    if diameter is None or plate.density is None:
        weighed.refusal = unknown_weight(wafer, plate)
        return weighed
    radius = diameter.value / 2.0
    limit = gravity.flip_curvature(
        density_kg_per_m3=plate.density,
        thickness_m=wafer.substrate.thickness.value,
        wafer_radius_m=radius,
        reduced_pa=plate.reduced,
    )
    smallest = min(abs(direction.change) for direction in weighed.directions)
    share = limit / smallest if smallest else math.inf
    if share > _SMALL:
        weighed.refusal = Notice(
            RefusalCode.FLAT_STAGE_SAG,
            f"on a flat stage the wafer's own weight can bend it by {1e3 * limit:.2g} 1/km, "
            f"against {1e3 * smallest:.2g} 1/km that was found: the film's share cannot be told; "
            "scan on three points, both times on the same ones",
        )
        return weighed
    weighed.warnings.append(
        Notice(
            WarningCode.SAG_NOT_SMALL,
            "on a flat stage the wafer's own weight may take up to "
            f"{100 * share:.1f} % of the film's bow; it is in the budget; three points would not "
            "need it",
        )
    )
    term = Term(
        input="support and gravity",
        value=0.0,
        unit="1/m",
        u=limit / math.sqrt(3.0),
        sensitivity=1.0,
        shape=Shape.RECTANGULAR,
        common_to=wafer.named,
        source=Source.DEFAULT,
    )
    weighed.directions = tuple(
        replace(d, corrections=(*d.corrections, term)) for d in weighed.directions
    )
    return weighed
