"""How a bare wafer sags on a support: part of the truth that its weight is told from."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import FilmstressError, RefusedInput
from filmstress.physics.elasticity import rotate_reduced
from filmstress.physics.supported_plate import sag_heights
from filmstress.records.wafer import Support
from filmstress.simulate.shape import stiffness
from filmstress.simulate.truth import Truth
from filmstress.substrates.catalogue import find_cut
from filmstress.units.kinds import Kind
from filmstress.units.quantity import read_quantity

FloatArray = NDArray[np.float64]
Sag = Callable[[FloatArray], FloatArray]

_WORDS = (Support.RIM, Support.CENTRE, Support.THREE_POINTS)
_WHERE = "weighed_on"
_RADIUS = Kind("support radius", "length", 1e-3, 0.25, "50 mm")
_AZIMUTH = Kind("support azimuth", "angle", -12.6, 12.6, "30 deg")


def sag_on(truth: Truth, support: str, azimuth_rad: float) -> Sag:
    """Heights [m] that the weight adds on a support, by position along a line [m].

    Parameters
    ----------
    truth : Truth
    support : str
        "rim", "centre" or "three-points 50 mm"; an azimuth of one point may follow ("30 deg",
        else 0).
    azimuth_rad : float
        Of the line [rad].

    Raises
    ------
    RefusedInput
        If the support cannot be read, or the points are not on the wafer.
    """
    word, _, rest = support.strip().partition(" ")
    radius, point = None, 0.0
    if word not in _WORDS or (rest and word != Support.THREE_POINTS):
        raise _refused(support)
    if word == Support.THREE_POINTS:
        parts = rest.split()
        if len(parts) not in (2, 4):
            raise _refused(support)
        radius = read_quantity(" ".join(parts[:2]), _RADIUS, where=_WHERE).value
        if len(parts) == 4:
            point = read_quantity(" ".join(parts[2:]), _AZIMUTH, where=_WHERE).value
    wafer = {
        "density_kg_per_m3": find_cut(truth.substrate).density.value,
        "thickness_m": truth.substrate_thickness_m,
        "wafer_radius_m": 0.5 * truth.diameter_m,
    }
    along = rotate_reduced(stiffness(truth), azimuth_rad)

    def sag(x: FloatArray) -> FloatArray:
        # Smooth: a few hundred places and straight lines between them will do.
        places = np.linspace(-wafer["wafer_radius_m"], wafer["wafer_radius_m"], 4001)
        try:
            heights = sag_heights(
                word,
                places,
                **wafer,
                reduced_pa=along,
                support_radius_m=radius,
                azimuth_rad=azimuth_rad - point,
            )
        except FilmstressError as error:
            raise RefusedInput(error.message, where=_WHERE, hint=error.hint) from error
        return np.interp(x, places, heights)

    return sag


def _refused(support: str) -> RefusedInput:
    return RefusedInput(
        f"'{support}' is no support whose sag is known",
        where=_WHERE,
        hint="write rim, centre, 'three-points 50 mm' or 'three-points 50 mm 30 deg'",
    )
