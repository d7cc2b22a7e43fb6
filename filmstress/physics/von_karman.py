"""Large deflection of a round wafer, beyond the series of `filmstress.physics.deflection`.

Von Karman's plate of any plane-stress stiffness under a film's equibiaxial force, solved for the
force that makes a *fitted* curvature change along one azimuth, with a stress-free spherical bow of
the bare wafer, and its weight on a support where that matters.

Heights w are polynomials (`filmstress.physics.round_plate`); equilibrium makes stationary

    (w - w0) B (w - w0)/2 - S f (w - w0) + g H^-1 g/2 - p w,   g = G[w, w] - G[w0, w0],

with the bending stiffness B, the film's load f (S/3 times the curvature), the compliance H of the
in-plane forces that the Gaussian curvature g calls up, and the weight p.  Newton's method finds w
and S together from the condition that the fitted parabola changed as measured.  A wafer whose
equilibrium is no minimum of the energy has passed the bifurcation.

References
----------
T. von Karman, Festigkeitsprobleme im Maschinenbau (1910), and E. H. Mansfield, The Bending and
Stretching of Plates (1989), for the plate (from memory).  Derived here; tested against a
boundary-value solver and finite elements.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import MeasurementRefused
from filmstress.physics.elasticity import directional_modulus, isotropic_equivalent
from filmstress.physics.round_plate import Floats, Shapes, round_plate
from filmstress.physics.supported_plate import Weight, fit_row, holding, sag_fit, weight_load

# A step of K that Newton's method takes safely from the state before.
_STEP = 0.25
_ITERATIONS = 15
# Far above the arithmetic, far below what squares of it leave in a quadratic iteration.
_CONVERGED = 1e-7
# Curvature per force, over the linear plate's, below which a curvature tells no force.
_LEAST_ANSWER = 0.1


@dataclass(frozen=True, slots=True)
class Stiffening:
    """How the film force stands to the linear relation N = M h_s^2 dkappa/6.

    Attributes
    ----------
    film_change : float
        K that the film force would make on the linear plate, along the scan.
    gain : float
        Derivative of ``film_change`` by the measured change [1]: what an error of the curvature is
        multiplied with; ``gain`` times the change less ``film_change`` is what the thickness and
        the radius gain in sensitivity through K.
    """

    film_change: float
    gain: float


@dataclass(frozen=True, slots=True)
class _Problem:
    """A plate on a support; ``sag`` is its shape under the weight were it linear."""

    bending: Floats
    membrane: Floats
    shapes: Shapes
    fit: Floats
    load: Floats
    sag: Floats


def stiffening(
    *,
    reduced_pa: ArrayLike,
    window_low: float,
    window_high: float,
    reduced_change: float,
    reduced_before: float = 0.0,
    weight_before: Weight | None = None,
    weight_after: Weight | None = None,
) -> Stiffening:
    """What a fitted curvature change would be if the film had bent a linear plate.

    Parameters
    ----------
    reduced_pa : array_like, shape (3, 3)
        Plane-stress stiffness Q of the substrate with axis x along the scan [Pa].
    window_low, window_high : float
        Ends of the fitted part of the diameter in wafer radii from the centre, -1 to 1, sampled
        evenly.
    reduced_change : float
        K of the change, kappa R^2/(4 h_s) of the fitted parabola (after minus before), signed.
        Where the two weights differ, without the sag that the linear plate has on either.
    reduced_before : float
        K of the first scan over the same window, signed: the shape of the bare wafer, taken as
        spherical and free of stress, plus its sag where ``weight_before`` is given.
    weight_before, weight_after : Weight or None
        Of the wafer on the support that carries it in either scan: the sag couples into the
        stiffening.

    Returns
    -------
    Stiffening
        On N = M h_s^2 dkappa/6 with the modulus M along the scan.  An earlier film's force is found
        by a call of its own, and subtracted.

    Raises
    ------
    MeasurementRefused
        Code "beyond-bifurcation" where no stable shape of the wafer has this curvature, or the
        curvature hardly answers to the force any more.

    Notes
    -----
    Range: |S| up to the bifurcation, S = 1.3 to 1.5.  Close to it, and well before it on a cut
    whose response depends on azimuth, the shape answers to any small departure from an
    equibiaxial force; the result then is that of the ideal film.  On such a cut the curvature
    along the stiff azimuth falls again beyond its highest value (S about 0.6 on Si(110)): one scan
    there cannot tell on which side the wafer is, so scan the azimuth that bends more.
    """
    linear = directional_modulus(reduced_pa) / sum(isotropic_equivalent(reduced_pa))
    even = all(weight is None or weight.even for weight in (weight_before, weight_after))
    first, second = (
        _problem(reduced_pa, weight, fit_row(window_low, window_high, even=even), even=even)
        for weight in (weight_before, weight_after)
    )
    sag = 0.0
    if weight_before is not None:
        sag = sag_fit(
            weight_before, window_low=window_low, window_high=window_high, reduced_pa=reduced_pa
        )
    bare, state = _at_rest(first, reduced_before - sag)
    target = float(first.fit @ (state + second.sag - first.sag)) + reduced_change
    if weight_after != weight_before:
        state = _settled(second, bare, bare + second.sag)
    start, force = float(first.fit @ state), 0.0
    steps = math.ceil(abs(target - start) / _STEP)
    for step in range(1, steps + 1):
        at = start + (target - start) * step / steps
        force, state = _bent_to(second, bare, at, force, state)
    _, tangent = _imbalance(second, bare, state)
    film = second.shapes.film / 3.0
    answer = float(second.fit @ np.linalg.solve(tangent, film)) * linear
    if answer < _LEAST_ANSWER or not _stable(tangent):
        raise _beyond()
    return Stiffening(force / linear, 1.0 / answer)


def stretched_sag(
    *,
    reduced_pa: ArrayLike,
    window_low: float,
    window_high: float,
    reduced_bow: float,
    weight: Weight,
) -> float:
    """K by which stretching changes what a fitted parabola reads of the weight's sag.

    Parameters
    ----------
    reduced_pa, window_low, window_high, weight
        As in `stiffening`.
    reduced_bow : float
        K of the stress-free wafer, a sphere, without its weight.

    Raises
    ------
    MeasurementRefused
        Code "beyond-bifurcation" where no equilibrium is found.
    """
    even = weight.even
    row = fit_row(window_low, window_high, even=even)
    problem = _problem(reduced_pa, weight, row, even=even)
    bare = reduced_bow * problem.shapes.sphere
    return float(row @ (_settled(problem, bare, bare + problem.sag) - bare - problem.sag))


def _problem(reduced_pa: ArrayLike, weight: Weight | None, fit: Floats, *, even: bool) -> _Problem:
    plate = round_plate(reduced_pa, even=even)
    bending, load = plate.bending, np.zeros_like(plate.shapes.weight)
    if weight is None:
        return _Problem(bending, plate.membrane, plate.shapes, fit, load, load)
    bending, load = bending + holding(weight, even=even), weight_load(weight, even=even)
    sag = np.asarray(np.linalg.solve(bending, load), dtype=np.float64)
    return _Problem(bending, plate.membrane, plate.shapes, fit, load, sag)


def _settled(problem: _Problem, bare: Floats, w: Floats) -> Floats:
    """Shape of the wafer without a film under its weight, from a near one."""
    for _ in range(_ITERATIONS):
        gradient, tangent = _imbalance(problem, bare, w)
        step = np.linalg.solve(tangent, gradient)
        w = w - step
        if np.max(np.abs(step)) < _CONVERGED:
            return w
    raise _beyond()


def _bent_to(
    problem: _Problem, bare: Floats, target: float, force: float, w: Floats
) -> tuple[float, Floats]:
    """S and w at which the fit reads ``target``, from a near equilibrium."""
    n = len(w)
    system, right = np.zeros((n + 1, n + 1)), np.empty(n + 1)
    film = problem.shapes.film / 3.0
    system[n, :n], system[:n, n] = problem.fit, -film
    for _ in range(_ITERATIONS):
        gradient, tangent = _imbalance(problem, bare, w)
        right[:n], right[n] = gradient - force * film, problem.fit @ w - target
        system[:n, :n] = tangent
        step = np.linalg.solve(system, right)
        w, force = w - step[:n], force - float(step[n])
        if not math.isfinite(force):
            break
        if np.max(np.abs(step)) < _CONVERGED:
            return force, w
    raise _beyond()


def _beyond() -> MeasurementRefused:
    return MeasurementRefused(
        "the wafer is bent so far that it turns from a bowl into a cylinder-like shape, whose "
        "curvature does not tell the stress",
        code="beyond-bifurcation",
        hint="use a thicker or smaller wafer, or a thinner film",
    )


def _at_rest(problem: _Problem, reduced_bow: float) -> tuple[Floats, Floats]:
    """Stress-free shape, and shape under the weight, of a wafer that reads K without its sag."""
    curvature, sphere = reduced_bow, problem.shapes.sphere
    if not problem.load.any():
        return curvature * sphere, curvature * sphere
    w = problem.sag + curvature * sphere
    for _ in range(_ITERATIONS):
        gradient, tangent = _imbalance(problem, curvature * sphere, w)
        step = np.linalg.solve(tangent, gradient)
        # What stretching takes off the sag belongs to the bow.
        more = reduced_bow - float(problem.fit @ (w - step - problem.sag))
        curvature, w = curvature + more, w - step + more * sphere
        if max(float(np.max(np.abs(step))), abs(more)) < _CONVERGED:
            return curvature * sphere, w
    raise _beyond()


def _imbalance(problem: _Problem, bare: Floats, w: Floats) -> tuple[Floats, Floats]:
    """Gradient of the energy without the film, and its derivative."""
    gauss = problem.shapes.gauss
    turned = gauss @ w
    airy = problem.membrane @ (turned @ w - (gauss @ bare) @ bare)
    gradient = problem.bending @ (w - bare) + 2.0 * (airy @ turned) - problem.load
    tangent = (
        problem.bending
        + 4.0 * turned.T @ problem.membrane @ turned
        + 2.0 * np.tensordot(airy, gauss, 1)
    )
    return gradient, tangent


def _stable(tangent: Floats) -> bool:
    try:
        np.linalg.cholesky(tangent)
    except np.linalg.LinAlgError:
        return False
    return True
