"""A ring at the rim that the film does not cover: it holds the covered part back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from filmstress.errors import RefusedInput
from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.records.budget import Term
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.stats.budget import scale


def without_ring(
    directions: Sequence[Direction], wafer: WaferSpec, plate: Plate
) -> tuple[Direction, ...]:
    """The changes of curvature that the film would make if it reached the rim.

    Raises
    ------
    RefusedInput
        If a ring is stated but not the wafer's diameter.
    """
    ring, diameter = wafer.film.uncoated_ring, wafer.substrate.diameter
    if ring.value == 0.0 and not ring.u:
        return tuple(directions)
    if diameter is None:
        raise RefusedInput(
            "an uncoated ring is stated, but not the wafer's diameter",
            where=f"{wafer.named}, film.uncoated_ring",
            hint="state the diameter, '150 mm'",
        )
    from filmstress.physics.nonuniform import ring_factor, ring_sensitivity

    radius = diameter.value / 2.0
    q11, q12 = isotropic_equivalent(plate.reduced)
    place = {
        "poisson_ratio": q12 / q11,
        "film_radius_m": radius - ring.value,
        "wafer_radius_m": radius,
    }
    factor, slope = ring_factor(**place), ring_sensitivity(**place)
    return tuple(_corrected(direction, wafer, factor, slope) for direction in directions)


def within_film(wafer: WaferSpec, scan: ScanSpec) -> ScanSpec:
    """The scan with a window that leaves out a bare ring: the edge of the film is a step in it."""
    ring, diameter = wafer.film.uncoated_ring, wafer.substrate.diameter
    if ring.value == 0.0 or diameter is None:
        return scan
    edge = diameter.value / 2.0 - ring.value
    low, high = scan.window or (-edge, edge)
    return replace(scan, window=(max(low, -edge), min(high, edge)))


def _corrected(direction: Direction, wafer: WaferSpec, factor: float, slope: float) -> Direction:
    change = direction.film_change / factor
    term = Term(
        input="uncoated ring",
        value=wafer.film.uncoated_ring.value,
        unit="m",
        u=wafer.film.uncoated_ring.u or 0.0,
        # The ring takes slope < 0 per metre off the factor that divides the change.
        sensitivity=-change * slope / factor,
        shape=wafer.film.uncoated_ring.shape,
        common_to=wafer.film.thickness_common_to,
        source=wafer.film.uncoated_ring.source,
    )
    return replace(
        direction,
        film_change=change,
        gain=direction.gain / factor,
        corrections=(*scale(direction.corrections, 1.0 / factor), term),
    )
