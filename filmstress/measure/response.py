"""How the plate answers: rows that turn curvature changes into force per width.

Force per width = (h_s^2 / 6) s (row @ curvature changes), one curvature change a direction.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.directions import Direction
from filmstress.measure.plate import Plate, PlateInput
from filmstress.physics.azimuths import force_from_azimuths, normal_row
from filmstress.physics.elasticity import directional_modulus, rotate_reduced

Floats = NDArray[np.float64]

_TURN_RAD = math.radians(0.2)


@dataclass(frozen=True, slots=True, eq=False)
class Response:
    """A row and how it changes.

    Attributes
    ----------
    row : ndarray, shape (..., n)
        [Pa].
    slopes : tuple of (PlateInput, ndarray)
        d row / d(constant) [Pa / unit].
    turn : ndarray
        d row / d(azimuth of all scans against the crystal) [Pa / rad].
    """

    row: Floats
    slopes: tuple[tuple[PlateInput, Floats], ...]
    turn: Floats

    def pick(self, choose: Callable[[Floats], Floats]) -> Response:
        """The response of a linear combination of the rows."""
        return Response(
            choose(self.row),
            tuple((source, choose(slope)) for source, slope in self.slopes),
            choose(self.turn),
        )

    def mean(self) -> Response:
        """Mean over the directions."""
        return self.pick(lambda rows: np.asarray(rows.mean(axis=0)))

    def along(self, index: int) -> Response:
        """Of one direction."""
        return self.pick(lambda rows: np.asarray(rows[index]))


def plain_response(plate: Plate, azimuths: Floats) -> Response:
    """Stoney's equation with each azimuth's own modulus, one row a direction (diagonal)."""

    def rows(reduced: Floats) -> Floats:
        return np.diag([directional_modulus(rotate_reduced(reduced, a)) for a in azimuths])

    return _respond(plate, rows)


def normal_response(plate: Plate, azimuths: Floats) -> Response:
    """Normal force along each direction by the tensor form, shape (n, n)."""
    if azimuths.size == 1:
        # One azimuth can only be read as equibiaxial, which is the plain equation.
        return plain_response(plate, azimuths)

    def rows(reduced: Floats) -> Floats:
        return np.asarray(normal_row(azimuths) @ force_from_azimuths(reduced, azimuths))

    return _respond(plate, rows)


def normal_along(plate: Plate, directions: Sequence[Direction], azimuth_rad: float) -> Response:
    """Normal force along any azimuth from curvature changes along ``directions``, shape (n,)."""
    azimuths = np.array([direction.azimuth for direction in directions])

    def row(reduced: Floats) -> Floats:
        return np.asarray(normal_row(azimuth_rad) @ force_from_azimuths(reduced, azimuths))

    return _respond(plate, row)


def _respond(plate: Plate, rows: Callable[[Floats], Floats]) -> Response:
    q = plate.reduced
    slopes = []
    for source in plate.inputs:
        if not source.measured.u:
            continue
        # A hundredth of the uncertainty: small against the constant, large against rounding.
        step = 0.01 * source.measured.u
        change = step * source.derivative
        slopes.append((source, (rows(q + change) - rows(q - change)) / (2.0 * step)))
    turned = rows(rotate_reduced(q, _TURN_RAD)) - rows(rotate_reduced(q, -_TURN_RAD))
    return Response(rows(q), tuple(slopes), turned / (2.0 * _TURN_RAD))


def turning(reduced_pa: Floats) -> Floats:
    """Change of Q with the azimuth of all scans against the crystal, dQ/d(azimuth) [Pa/rad]."""
    turned = rotate_reduced(reduced_pa, _TURN_RAD) - rotate_reduced(reduced_pa, -_TURN_RAD)
    return np.asarray(turned / (2.0 * _TURN_RAD))
