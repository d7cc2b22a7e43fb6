"""From the change of curvature to the one that the film would make on a linear plate.

A plate that is bent by more than a part of its thickness stiffens: the linear relation then reads
too little force.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate
from filmstress.measure.weight import Weighed, sag_curvature, scans_of
from filmstress.physics import deflection
from filmstress.physics.elasticity import isotropic_equivalent
from filmstress.records.budget import Term
from filmstress.records.notice import Notice, RefusalCode, WarningCode
from filmstress.records.quantity import Source
from filmstress.records.wafer import WaferSpec

# Corrections smaller than this share of the force are not worth a row.
NEGLIGIBLE = 1e-4
LARGE_DEFLECTION_SHARE = 0.01
# On crystals the coefficient is that of an equivalent isotropic plate.
_CRYSTAL_DOUBT = 0.15
_ISOTROPIC_DOUBT = 0.02
# How well the sag couples into the stiffening is known only roughly.
_SAG_COUPLING_DOUBT = 0.5
_SERIES_END = 1.0


def without_stiffening(directions: Sequence[Direction], wafer: WaferSpec, plate: Plate) -> Weighed:
    """Correct every direction for large deflection, as far as it is known how.

    The first shape is taken as that of the bare, stress-free wafer.

    Parameters
    ----------
    directions : sequence of Direction
        With the changes that the film made.
    wafer : WaferSpec
        Gives diameter and thickness; without a diameter there is a warning in place of the
        correction.
    plate : Plate
        Gives the stiffness.
    """
    bent = Weighed(tuple(directions))
    _take_out_stiffening(bent, wafer, plate)
    return bent


def _take_out_stiffening(bent: Weighed, wafer: WaferSpec, plate: Plate) -> None:
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
    _, after = scans_of(wafer, 0)
    sag = reduced(sag_curvature(wafer, after, plate, bent.directions[0]))
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


def _refuse_beyond(bent: Weighed, reduced_force: float, plate: Plate) -> None:
    _, critical = deflection.bifurcation(plate.reduced)
    end = min(critical, _SERIES_END)
    if abs(reduced_force) > end:
        bent.refusal = Notice(
            RefusalCode.BEYOND_BIFURCATION,
            f"the wafer is bent to S = {abs(reduced_force):.2f}, and from S = {end:.2f} on it "
            "turns from a bowl into a cylinder-like shape whose curvature does not tell the "
            "stress; use a thicker or smaller wafer, or a thinner film",
        )


def _add_stiffening(bent: Weighed, share: float, doubt: float, coefficient: float) -> None:
    changed = []
    for direction in bent.directions:
        term = Term(
            input="large deflection",
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
