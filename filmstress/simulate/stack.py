"""Scans of one wafer in the states of a stack, drawn from the true force of every layer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from filmstress.physics.stack import share_of_stoney
from filmstress.simulate.pair import Trace, simulate_pair
from filmstress.simulate.truth import Truth

# A film so thin that its own thickness plays no part carries the force of all layers.
_THIN_M = 1e-12


@dataclass(frozen=True, slots=True)
class TrueLayer:
    """A film as it truly is: stress [Pa], thickness [m], modulus over the wafer's [1], face."""

    stress_pa: float
    thickness_m: float
    modulus_ratio: float
    face_sign: int = 1


def bending_force(
    layers: Sequence[TrueLayer], index: int, *, substrate_thickness_m: float
) -> float:
    """Signed force [N/m] of one layer among others, as Stoney's equation would have it."""
    layer = layers[index]
    films = [(one.thickness_m, one.modulus_ratio, one.face_sign) for one in layers]
    share = share_of_stoney(films, index, substrate_thickness_m=substrate_thickness_m)
    return layer.face_sign * layer.stress_pa * layer.thickness_m * share


def simulate_states(
    base: Truth, forces: Sequence[float], *, azimuth_rad: float = 0.0
) -> list[Trace]:
    """Scan one wafer along a line in several states.

    Parameters
    ----------
    base : Truth
        Wafer, stage and noise; its film is not used.
    forces : sequence of float
        Signed force per width that bends the wafer in each state [N/m]: the sum of
        `bending_force` over the layers then on it.
    azimuth_rad : float
        Of the line [rad].

    Returns
    -------
    list of Trace
        One a state: the same wafer, other noise.
    """
    traces = []
    for number, force in enumerate(forces):
        truth = replace(
            base, stress_x_pa=force / _THIN_M, stress_y_pa=None, film_thickness_m=_THIN_M
        )
        pair = simulate_pair(truth, azimuth_rad=azimuth_rad, repeat=number)
        traces.append(pair.post_trace)
    return traces
