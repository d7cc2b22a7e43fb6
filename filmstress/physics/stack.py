"""Several thin films on one plate, on both faces.

Film forces add, each with the sign of its face, and so do the curvatures that they cause:

    dkappa = (6/h_s^2) Q^-1 (sum over the scanned face of N_i - sum over the other face of N_j).

Range: all films together thin against the plate (the stiffness of the films is neglected, about
4 h_f/h_s M_f/M_s of the force each; `share_of_stoney` tells it), earlier films unchanged by later
steps, and the bow linear (`filmstress.physics.deflection`).

References
----------
P. A. Townsend, D. M. Barnett & T. A. Brunner, J. Appl. Phys. 62 (1987) 4438, doi
10.1063/1.339048 (from memory), for films whose thickness counts.  Derived here from plate bending.
"""

from __future__ import annotations

from collections.abc import Sequence

from filmstress.errors import RefusedInput


def signed_force(forces: Sequence[tuple[float, int]]) -> float:
    """Sum of film forces per width [N/m], each counted with the sign of its face.

    Parameters
    ----------
    forces : sequence of (float, int)
        Force per width [N/m], tension positive, and +1 for the scanned face or -1 for the other.
    """
    return sum(sign * force for force, sign in forces)


def curvature_of_stack(
    *,
    modulus_pa: float,
    substrate_thickness_m: float,
    forces: Sequence[tuple[float, int]],
    bare_per_m: float = 0.0,
) -> float:
    """Curvature [1/m] of a plate under several films; see `signed_force`.

    Parameters
    ----------
    modulus_pa : float
        Biaxial modulus of the substrate along the scan [Pa].
    substrate_thickness_m : float
        h_s [m].
    forces : sequence of (float, int)
    bare_per_m : float
        Curvature of the bare plate [1/m].
    """
    return bare_per_m + 6.0 * signed_force(forces) / (modulus_pa * substrate_thickness_m**2)


def balancing_thickness(
    *,
    modulus_pa: float,
    substrate_thickness_m: float,
    forces: Sequence[tuple[float, int]],
    stress_pa: float,
    face_sign: int,
    target_per_m: float = 0.0,
    bare_per_m: float = 0.0,
) -> float:
    """Thickness [m] of one more layer that brings the plate to a target curvature.

    h = [(M h_s^2/6)(kappa_target - kappa_bare) - sum s_i N_i]/(s sigma).

    Parameters
    ----------
    modulus_pa, substrate_thickness_m, forces, bare_per_m
        As in `curvature_of_stack`.
    stress_pa, face_sign
        Stress of the layer [Pa] and its face.
    target_per_m : float
        Curvature wanted [1/m].

    Raises
    ------
    RefusedInput
        No positive thickness of this stress on this face does it.
    """
    wanted = modulus_pa * substrate_thickness_m**2 / 6.0 * (target_per_m - bare_per_m)
    missing = wanted - signed_force(forces)
    if missing == 0.0:
        return 0.0
    thickness = missing / (face_sign * stress_pa) if stress_pa else -1.0
    if thickness < 0.0:
        raise RefusedInput(
            "no thickness of this layer balances the stack: it bends the wafer the wrong way",
            hint="put it on the other face, or take a layer of the other sign of stress",
        )
    return thickness


def share_of_stoney(
    films: Sequence[tuple[float, float, int]], index: int, *, substrate_thickness_m: float
) -> float:
    """How much one film among others bends the plate, relative to 6 s N/(M h_s^2).

    The film pulls on all the rest, plate and other films, which bend as one laminate: with its
    middle at z above the plate's, kappa = N (z - B/A)/(D - B^2/A), A, B, D = integral of
    M (1, z, z^2) over the rest.  Alone it is 1 + h_f/h_s, whatever its modulus.

    Parameters
    ----------
    films : sequence of (float, float, int)
        Thickness [m], biaxial modulus over the plate's [1], and face (+1 or -1) of every film, the
        innermost of each face first.
    index : int
        Which film pulls; N is its force per width as it is carried.
    substrate_thickness_m : float
        h_s [m].

    Notes
    -----
    Exact for films of any thickness but for the bending moment inside the pulling film itself,
    of third order in h_f/h_s.
    """
    h = substrate_thickness_m
    a, b, d = h, 0.0, h**3 / 12.0
    reach = {1: 0.5 * h, -1: 0.5 * h}
    middle, pulls = 0.0, 1
    for place, (thickness, ratio, face) in enumerate(films):
        low, high = reach[face], reach[face] + thickness
        reach[face] = high
        if place == index:
            middle, pulls = 0.5 * face * (low + high), face
            continue
        a += ratio * thickness
        b += ratio * face * (high**2 - low**2) / 2.0
        d += ratio * (high**3 - low**3) / 3.0
    return pulls * h**2 / 6.0 * (middle - b / a) / (d - b * b / a)
