"""Large deflection of a round wafer, beyond the series of `filmstress.physics.deflection`.

The axisymmetric von Karman plate under a film's equibiaxial force, solved for the force that makes
a *fitted* curvature change, with a stress-free bare bow and the wafer's weight where they matter.

With b the slope in 4 h_s/R, x = r/R, u = b/x and t = x^2, equilibrium and compatibility read

    4 (t q)'' = u0^2 - u^2,   4 (t (u - u0 - v))'' = 96 k q u,   k = E*/Q11,
    q(1) = 0,   2 (u - u0)'(1) + (1 + nu) (u - u0)(1) = (1 + nu) S,

where t q is the radial force, u0 the constant of a stress-free spherical bow and v the sag of the
linear plate.  Integrated twice they are u = u0 + v + S + 96 k G_u[q u] and q = G_q[u0^2 - u^2],
with two fixed matrices on Gauss points in t: polynomials in r^2, exact to machine precision with a
dozen of them.  Newton's method finds u and S together from the condition that the parabola fitted
over the scanned window has the measured curvature.

A crystal enters by its azimuthal means, which are what an axisymmetric shape feels: the stiffness
Q bends the plate, the compliance Q^-1 lets it stretch.  Isotropic: k = 1 - nu^2.

References
----------
T. von Karman, Festigkeitsprobleme im Maschinenbau (1910), for the plate; the reduction to matrices
is derived here and tested against a boundary-value solver and finite elements.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import MeasurementRefused
from filmstress.physics.deflection import bifurcation, membrane_modulus
from filmstress.physics.elasticity import isotropic_equivalent

Floats = NDArray[np.float64]

# Gauss points in r^2: 10 reach machine precision; the logarithm of a point support leaves 1e-5.
_POINTS = 16
# A step of K that Newton's method takes safely from the state before.
_STEP = 0.3
_ITERATIONS = 12
_CONVERGED = 1e-10
_BEYOND = "beyond-bifurcation"


@dataclass(frozen=True, slots=True)
class PlateRatios:
    """What of a plate's stiffness decides its shape at large deflection.

    Attributes
    ----------
    poisson_ratio : float
        In bending, Q12/Q11 of the azimuthal mean of Q [1].
    stretch_ratio : float
        E*/Q11, stiffness against stretching over that against bending [1].
    critical_force : float
        S at which a bowl turns into a cylinder-like shape [1].
    """

    poisson_ratio: float
    stretch_ratio: float
    critical_force: float


@dataclass(frozen=True, slots=True)
class Weight:
    """The wafer's own weight on a support, the same in both scans.

    Attributes
    ----------
    reduced_load : float
        q R^4/(4 h_s D) [1]: `filmstress.physics.gravity.sag_scale` over 4 h_s.
    ring_radius : float
        Radius of the support [R]: 1 rim, 0 centre; three points act as the ring through them.
    """

    reduced_load: float
    ring_radius: float


def plate_ratios(reduced_pa: ArrayLike) -> PlateRatios:
    """Ratios of a cut from its plane-stress stiffness Q [Pa], shape (3, 3), in any axes."""
    q11, q12 = isotropic_equivalent(reduced_pa)
    _, critical = bifurcation(reduced_pa)
    return PlateRatios(q12 / q11, membrane_modulus(reduced_pa) / q11, critical)


def force_over_linear(
    *,
    plate: PlateRatios,
    window_low: float,
    window_high: float,
    reduced_change: float,
    reduced_before: float = 0.0,
    weight: Weight | None = None,
) -> float:
    """Factor on the linear film force of a fitted curvature change, S/K [1].

    Parameters
    ----------
    plate : PlateRatios
        From `plate_ratios`.
    window_low, window_high : float
        Ends of the fitted part of a diameter in wafer radii from the centre, -1 to 1, sampled
        evenly.
    reduced_change : float
        K of the change, kappa R^2/(4 h_s) of the fitted parabola (after minus before), signed.
    reduced_before : float
        K of the first scan over the same window, signed: the shape of the bare wafer, taken as
        spherical and free of stress, plus its sag where ``weight`` is given.
    weight : Weight or None
        Given, the sag couples into the stiffening.

    Returns
    -------
    float
        S over K.  An earlier film's S is found by a call of its own, and subtracted.

    Raises
    ------
    MeasurementRefused
        Code "beyond-bifurcation" where S exceeds the plate's critical force, or no solution is
        found.
    """
    if reduced_change == 0.0:
        # The factor is even in a small change only without a bow, but it is continuous.
        reduced_change = 1e-6
    grid = _operators(plate.poisson_ratio)
    fit = _fit_row(window_low, window_high)
    stretch = 96.0 * plate.stretch_ratio
    if weight is None:
        sag = np.zeros(_POINTS)
        bare, before = reduced_before, np.full(_POINTS, reduced_before)
    else:
        sag = _sag(grid.nodes, weight, plate.poisson_ratio)
        sag_fit = _fit_of_sag(window_low, window_high, weight, plate.poisson_ratio)
        bare, before = _at_rest(grid, stretch, fit, sag, reduced_before - sag_fit)
    force, state = 0.0, before
    steps = max(1, math.ceil(abs(reduced_change) / _STEP))
    for step in range(1, steps + 1):
        change = reduced_change * step / steps
        force, state = _bent_to(grid, stretch, fit, bare, sag, before, change, force, state)
        if not abs(force) <= plate.critical_force:
            raise MeasurementRefused(
                f"the wafer is bent to S = {abs(force):.2f}, and from S = "
                f"{plate.critical_force:.2f} on it turns from a bowl into a cylinder-like shape "
                "whose curvature does not tell the stress",
                code=_BEYOND,
                hint="use a thicker or smaller wafer, or a thinner film",
            )
    return force / reduced_change


@dataclass(frozen=True, slots=True)
class _Grid:
    nodes: Floats  # t
    bend: Floats  # G_u
    stretch: Floats  # G_q


@lru_cache(maxsize=64)
def _operators(nu: float) -> _Grid:
    """Matrices that invert 4 (t f)'' for the two conditions at the rim.

    J[g] = (1/4t) times the integral of (t - s) g(s) over 0..t; J(1) has the weights (1 - s)/4 and
    J'(1) the weights s/4.
    """
    nodes, weights = _gauss(_POINTS)
    kernel = (weights * (1.0 - nodes)) @ _interpolation(np.outer(nodes, nodes))
    integral = 0.25 * nodes[:, None] * kernel
    at_rim, slope_at_rim = 0.25 * weights * (1.0 - nodes), 0.25 * weights * nodes
    return _Grid(
        nodes,
        integral - at_rim - 2.0 / (1.0 + nu) * slope_at_rim,
        integral - at_rim,
    )


def _bent_to(
    grid: _Grid,
    stretch: float,
    fit: Floats,
    bare: float,
    sag: Floats,
    before: Floats,
    change: float,
    force: float,
    state: Floats,
) -> tuple[float, Floats]:
    """S and u for which the fit over the window has changed by ``change``, from a near state."""
    n = len(state)
    system = np.empty((n + 1, n + 1))
    system[n, :n], system[:n, n], system[n, n] = fit, -1.0, 0.0
    residual = np.empty(n + 1)
    u = state
    for _ in range(_ITERATIONS):
        error, slope = _imbalance(grid, stretch, bare, sag, u)
        residual[:n] = error - force
        residual[n] = fit @ (u - before) - change
        system[:n, :n] = slope
        step = np.linalg.solve(system, residual)
        u, force = u - step[:n], force - float(step[n])
        if np.max(np.abs(step)) < _CONVERGED:
            return force, u
    return math.inf, u


def _at_rest(
    grid: _Grid, stretch: float, fit: Floats, sag: Floats, bare: float
) -> tuple[float, Floats]:
    """Bare bow, and u of the wafer that sags without film force, near the linear solution."""
    wanted, u = bare, sag + bare
    for _ in range(_ITERATIONS):
        error, slope = _imbalance(grid, stretch, bare, sag, u)
        step = np.linalg.solve(slope, error)
        u = u - step
        # What the plate's own stretching takes off the sag belongs to the bow.
        correction = wanted - float(fit @ (u - sag))
        bare, u = bare + correction, u + correction
        if max(float(np.max(np.abs(step))), abs(correction)) < _CONVERGED:
            break
    return bare, u


def _imbalance(
    grid: _Grid, stretch: float, bare: float, sag: Floats, u: Floats
) -> tuple[Floats, Floats]:
    """u - u0 - v - 96 k G_u[q u], which is S, and its derivative by u."""
    radial = grid.stretch @ (bare**2 - u**2)
    error = u - bare - sag - stretch * (grid.bend @ (radial * u))
    change = np.diag(radial) - 2.0 * u[:, None] * grid.stretch * u
    return error, np.eye(len(u)) - stretch * (grid.bend @ change)


def _sag(t: Floats, weight: Weight, nu: float) -> Floats:
    """Slope of the linear sag over x, on a ring."""
    b = weight.ring_radius
    outer = np.maximum(t, b**2)
    carried = np.log(outer) + np.where(t > b**2, 1.0 + b**2 / outer, 2.0)
    rim = (3.0 - b**2 + nu * (1.0 + b**2)) / 8.0 - (3.0 + nu) / 16.0
    slope: Floats = carried / 8.0 - t / 16.0 - rim / (1.0 + nu)
    return weight.reduced_load * slope


@lru_cache(maxsize=64)
def _fit_of_sag(low: float, high: float, weight: Weight, nu: float) -> float:
    """K of the parabola fitted to the linear sag."""
    squares, second = _window(low, high)
    nodes, weights = _gauss(64)
    slopes = _sag(np.outer(squares, nodes), weight, nu)
    return float(second @ (0.5 * squares * (slopes @ weights)))


@lru_cache(maxsize=64)
def _fit_row(low: float, high: float) -> Floats:
    """Weights of u in K of the parabola fitted to the heights over a window."""
    squares, second = _window(low, high)
    nodes, weights = _gauss(_POINTS)
    heights = 0.5 * squares[:, None] * (weights @ _interpolation(np.outer(squares, nodes)))
    row: Floats = second @ heights
    row.setflags(write=False)
    return row


def _window(low: float, high: float) -> tuple[Floats, Floats]:
    """Squared positions over a window, and their weights in the fitted second derivative."""
    nodes, weights = np.polynomial.legendre.leggauss(40)
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    return (middle + half * nodes) ** 2, 7.5 * weights * (1.5 * nodes**2 - 0.5) / half**2


@lru_cache(maxsize=8)
def _gauss(points: int) -> tuple[Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(points)
    return 0.5 * (nodes + 1.0), 0.5 * weights


def _interpolation(at: Floats) -> Floats:
    """Matrices (..., n) from values on the n Gauss points to values at t, by Legendre series."""
    nodes, weights = _gauss(_POINTS)
    norms = 2.0 * np.arange(_POINTS) + 1.0
    series = np.polynomial.legendre.legvander(2.0 * nodes - 1.0, _POINTS - 1)
    target = np.polynomial.legendre.legvander(2.0 * at - 1.0, _POINTS - 1)
    matrix: Floats = (target * norms) @ (series * weights[:, None]).T
    return matrix
