"""Bow over a length and curvature of a parabola.

The bow is the height of the ends above the middle, so it has the sign of the curvature: positive
for a bowl.  The semiconductor standards count a convex face as positive; turn the sign only where
a number is imported from or exported to that convention.
"""

from __future__ import annotations


def bow(*, curvature_per_m: float, length_m: float) -> float:
    """Bow [m] of a parabola over a length, kappa L^2/8.

    Parameters
    ----------
    curvature_per_m : float
        kappa [1/m].
    length_m : float
        L [m]: the length of the scan, or the wafer's diameter.

    Notes
    -----
    An arc of a circle of the radius R is higher by L^2/(16 R^2) of it: below 1e-6 for any wafer.
    """
    return curvature_per_m * length_m**2 / 8.0


def curvature(*, bow_m: float, length_m: float) -> float:
    """Curvature [1/m] of a parabola with the given bow [m] over a length [m], 8 b/L^2."""
    return 8.0 * bow_m / length_m**2
