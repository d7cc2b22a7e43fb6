"""How far a trace is from a parabola, beyond what its noise makes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.stats.averaging import AveragedFits, Setting, average_fits
from filmstress.stats.block_means import BlockMeans
from filmstress.stats.noise_family import noise_family
from filmstress.stats.quadratic_fit import QuadraticFit
from filmstress.stats.reml import FamilyFits, fit_family

Floats = NDArray[np.float64]

ORDERS = (3, 4, 5, 6)
SIGNIFICANT = 0.01
# Legendre polynomials 3 to 6, falling powers of t (Abramowitz & Stegun 1964, table 22.9).
_LEGENDRE = (
    np.array([5.0, 0.0, -3.0, 0.0]) / 2.0,
    np.array([35.0, 0.0, -30.0, 0.0, 3.0]) / 8.0,
    np.array([63.0, 0.0, -70.0, 0.0, 15.0, 0.0]) / 8.0,
    np.array([231.0, 0.0, -315.0, 0.0, 105.0, 0.0, -5.0]) / 16.0,
)
BENDS = tuple(np.polyder(p, 2) for p in _LEGENDRE)
_MIN_DOF = 3


@dataclass(frozen=True, slots=True, eq=False)
class LackOfFit:
    """Smooth departure from the parabola: Legendre orders 3 to 6 fitted along with it.

    Attributes
    ----------
    amplitudes : ndarray, shape (4,)
        Coefficients of the Legendre polynomials of order 3 to 6 over the trace [y].
    rms : float
        Of that departure [y].
    share : float
        ``rms`` over that of the second order beside it [1]; infinite for a straight trace.
    order : int
        Order of the largest of the four.
    p_value : float
        Chance that noise as seen in the rest of the residuals makes orders 3 to 6 this large.
    curvature_even, curvature_even_u : float
        Curvature averaged evenly along the trace: the change of slope from end to end over the
        length [y / x^2], and its standard uncertainty.  The parabola weights the middle.
    curvature_difference : float
        The parabola's curvature minus the even average [y / x^2].
    """

    amplitudes: Floats
    rms: float
    share: float
    order: int
    p_value: float
    curvature_even: float
    curvature_even_u: float
    curvature_difference: float

    @property
    def significant(self) -> bool:
        """Whether the departure is more than the noise makes (at the 1 % level)."""
        return self.p_value < SIGNIFICANT


def lack_of_fit(fit: QuadraticFit, richer: RicherFit | None) -> LackOfFit:
    """Measure what a fitted parabola misses smoothly.

    Parameters
    ----------
    fit : QuadraticFit
        From ``fit_quadratic``; its block means are used, the trace is not read again.
    richer : RicherFit or None
        From ``richer_fit`` of the same fit.

    Notes
    -----
    Orders 3 to 6 are fitted beside the parabola by generalised least squares, and their F ratio's
    tail probability is averaged over the noise family by restricted likelihood.  The noise is
    taken from what orders 0 to 6 leave, so a shape finer than order 6 counts as noise.
    """
    blocks = fit.blocks
    p = fit.regressors.shape[0]
    if richer is None:
        return LackOfFit(np.zeros(len(ORDERS)), 0.0, 0.0, ORDERS[0], 1.0, fit.curvature, fit.u, 0.0)
    scale, fits, mean = richer.scale, richer.fits, richer.mean
    weight = mean.weight[:, 0]
    last = p
    gain = fits.explained[:, last:, 0].sum(axis=1)
    ratio = gain / (len(ORDERS) * fits.scale[:, 0])
    amplitudes = scale * mean.coefficients[last:, 0]
    rms = math.sqrt(float(np.sum(amplitudes**2 / (2.0 * np.array(ORDERS) + 1.0))))
    # The second order beside those four, not the parabola that stood in for all of them.
    second = fit.curvature * blocks.half_length**2 / 3.0 + scale * float(mean.coefficients[2, 0])
    second_rms = abs(second) / math.sqrt(5.0)
    # Change of slope from end to end: order j carries j (j + 1) where even, nothing where odd.
    ends = np.zeros(p + len(ORDERS))
    ends[[2, last + 1, last + 3]] = [3.0, 10.0, 21.0]
    ends /= blocks.half_length**2
    spread = np.tensordot(weight * fits.scale[:, 0], fits.inverse_normal, axes=1)
    difference = -scale * float(ends @ mean.coefficients[:, 0])
    return LackOfFit(
        amplitudes=amplitudes,
        rms=rms,
        share=rms / second_rms if second_rms > 0.0 else math.inf,
        order=ORDERS[int(np.abs(amplitudes).argmax())],
        p_value=float(weight @ _f4_tail(ratio, fits.dof)),
        curvature_even=fit.curvature - difference,
        curvature_even_u=scale * math.sqrt(float(ends @ spread @ ends)),
        curvature_difference=difference,
    )


@dataclass(frozen=True, slots=True, eq=False)
class RicherFit:
    """Legendre orders 3 to 6 beside the parabola, fitted to what the parabola left.

    Heights were divided by ``scale`` first; the last four coefficients are those of the orders.
    """

    scale: float
    fits: FamilyFits
    mean: AveragedFits


def richer_fit(fit: QuadraticFit) -> RicherFit | None:
    """Fit orders 3 to 6 too; None where nothing is left, or too few block means."""
    blocks, rest = fit.blocks, fit.block_residual
    scale = float(np.abs(rest).max())
    if scale == 0.0 or rest.size - fit.regressors.shape[0] - len(ORDERS) < _MIN_DOF:
        return None
    family = noise_family(blocks.blocks, blocks.index, blocks.count)
    rows = np.concatenate([fit.regressors, higher_rows(blocks)])
    fits = fit_family(family, rows, (rest / scale)[:, None])
    return RicherFit(scale, fits, average_fits(family, fits, setting=Setting.BALANCED, of=2))


def higher_rows(blocks: BlockMeans) -> Floats:
    """Block means of the Legendre polynomials 3 to 6 in t, shape (4, m)."""
    # To the second order about the mean position, which is all that a fiftieth of a trace needs.
    rows = [
        np.polyval(p, blocks.t) + 0.5 * np.polyval(bend, blocks.t) * blocks.t_variance
        for p, bend in zip(_LEGENDRE, BENDS, strict=True)
    ]
    return np.stack(rows)


def _f4_tail(ratio: Floats, dof: int) -> Floats:
    """P(F > ratio) for 4 and ``dof`` degrees of freedom (Abramowitz & Stegun 1964, 26.6.4)."""
    z = dof / (dof + 4.0 * ratio)
    tail: Floats = z ** (0.5 * dof) * (1.0 + 0.5 * dof * (1.0 - z))
    return tail
