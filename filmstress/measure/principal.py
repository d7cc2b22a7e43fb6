"""Principal stresses of a film from two or more azimuths."""

from __future__ import annotations

import math

import numpy as np

from filmstress.measure import film as outputs
from filmstress.measure.curvatures import as_estimate
from filmstress.measure.film import Film
from filmstress.measure.response import normal_along
from filmstress.physics.azimuths import force_from_azimuths
from filmstress.records.quantity import Estimate
from filmstress.records.result import PrincipalStresses
from filmstress.stats.budget import combine, merge_shared
from filmstress.stats.coverage import estimate


def principal_stresses(film: Film) -> PrincipalStresses | None:
    """Largest and smallest normal stress and the azimuth of the largest.

    None with one azimuth, or without film thickness.  What two azimuths cannot see is settled as
    for the stress itself: the least departure from an equibiaxial one.

    Notes
    -----
    A principal stress is the normal stress along its axis, and to first order an error of the axis
    does not change it, so it has that stress's budget.  The axis has the uncertainty of the
    curvatures and that of the scans' azimuth on the wafer; what multiplies the whole tensor does
    not turn it.
    """
    if len(film.directions) < 2 or film.wafer.film.thickness is None:
        return None
    azimuths = np.array([direction.azimuth for direction in film.directions])
    components = force_from_azimuths(film.plate.reduced, azimuths)
    xx, yy, xy = film.face_sign * components @ film.film_changes
    axis = 0.5 * math.atan2(2.0 * xy, xx - yy)
    high, low = (_along(film, axis + turn) for turn in (0.0, 0.5 * math.pi))
    # theta = atan2(2 N_xy, N_xx - N_yy) / 2, differentiated by the curvatures.
    size = math.hypot(xx - yy, 2.0 * xy)
    if size == 0.0:
        return PrincipalStresses(high, low, estimate(0.0, "rad", u=None))
    gradient = np.array([-xy, xy, xx - yy]) / size**2 @ components
    terms = [
        u * direction.gain * part.contribution
        for u, direction in zip(gradient.tolist(), film.directions, strict=True)
        for part in direction.terms
    ]
    turned = math.hypot(*terms, film.wafer.lines[0].azimuth.u or 0.0)
    # Beyond a few tenths of a radian the axis is not known at all.
    spread = turned if turned < 0.4 else None
    return PrincipalStresses(high, low, estimate(axis % math.pi, "rad", u=spread))


def _along(film: Film, azimuth: float) -> Estimate:
    value, terms = outputs.stress_by(film, normal_along(film.plate, film.directions, azimuth))
    return as_estimate(value, "Pa", combine(merge_shared(terms)))
