"""Bow over a length and curvature: the parabola, and the exact arc.

The bow is the height of the ends above the middle, so it has the sign of the curvature: positive
for a bowl.  The semiconductor standards count a convex face as positive; turn the sign only where
a number is imported from or exported to that convention.
"""

from __future__ import annotations

import math


def bow(*, curvature_per_m: float, length_m: float) -> float:
    """Bow [m] of a parabola over a length, kappa L^2/8.

    Parameters
    ----------
    curvature_per_m : float
        kappa [1/m].
    length_m : float
        L [m]: the length of the scan, or the wafer's diameter.
    """
    return curvature_per_m * length_m**2 / 8.0


def curvature(*, bow_m: float, length_m: float) -> float:
    """Curvature [1/m] of a parabola with the given bow [m] over a length [m], 8 b/L^2."""
    return 8.0 * bow_m / length_m**2


def arc_bow(*, curvature_per_m: float, length_m: float) -> float:
    """Bow [m] of a circular arc over a chord of the given length [m].

    R - sqrt(R^2 - L^2/4), written so that it is exact for a flat wafer too.  The parabola is
    smaller by the relative amount L^2/(16 R^2).

    Raises
    ------
    ValueError
        If the chord is longer than the circle is wide.
    """
    half = 0.5 * curvature_per_m * length_m
    if abs(half) > 1.0:
        raise ValueError(
            f"a chord of {length_m:g} m does not fit a circle of curvature {curvature_per_m:g} 1/m"
        )
    return 0.5 * length_m * half / (1.0 + math.sqrt(1.0 - half**2))


def arc_curvature(*, bow_m: float, length_m: float) -> float:
    """Curvature [1/m] of the circular arc with the given bow [m] over a chord [m]."""
    return chord_curvature(chord_m=0.5 * length_m, deflection_m=bow_m)


def chord_curvature(*, chord_m: float, deflection_m: float) -> float:
    """Curvature [1/m] of a strip clamped flat at one end, 2 d/(l^2 + d^2).

    Parameters
    ----------
    chord_m : float
        l, distance from the clamp along its tangent [m].
    deflection_m : float
        d, deflection there [m].

    References
    ----------
    Geometry of the circle; the form is printed in X. Sheng, L.-Y. Chang, H. Yu and L. Jia, problem
    set 2 of MIT 3.22, Mechanical Behavior of Materials (2008).
    """
    return 2.0 * deflection_m / (chord_m**2 + deflection_m**2)
