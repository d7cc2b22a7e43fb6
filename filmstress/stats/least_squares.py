"""Polynomial least squares, accurate to the digits that double precision can carry."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from filmstress.errors import RefusedInput, UsageError

Vector = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class PolynomialFit:
    """A polynomial fitted by least squares.

    Attributes
    ----------
    coefficients : ndarray, shape (degree + 1,)
        Of 1, x, x^2, ... [y / x^n].
    covariance : ndarray, shape (degree + 1, degree + 1)
        Of the coefficients: residual_sd^2 (X'WX)^-1.  It holds for independent residuals only.
    residuals : ndarray, shape (n,)
        y minus the polynomial [y].
    residual_sd : float
        sqrt(sum w r^2 / dof) [y], of an observation of weight 1.
    dof : int
        Number of points of non-zero weight minus number of coefficients.
    """

    coefficients: Vector
    covariance: Vector
    residuals: Vector
    residual_sd: float
    dof: int
    _centre: float
    _half_width: float
    _scaled: Vector

    @property
    def standard_errors(self) -> Vector:
        """Standard uncertainties of the coefficients."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), dtype=np.float64)

    @property
    def correlation(self) -> Vector:
        """Correlation matrix of the coefficients; the unit matrix where the fit is exact."""
        u = self.standard_errors
        if not u.all():
            return np.eye(len(u))
        return self.covariance / np.outer(u, u)

    def predict(self, x: ArrayLike) -> Vector:
        """Value of the polynomial at ``x`` [y], without the loss of large powers of x."""
        t = (np.asarray(x, dtype=np.float64) - self._centre) / self._half_width
        return np.asarray(np.polynomial.polynomial.polyval(t, self._scaled), dtype=np.float64)


def fit_polynomial(
    x: ArrayLike, y: ArrayLike, *, degree: int = 2, weights: ArrayLike | None = None
) -> PolynomialFit:
    """Fit y = b0 + b1 x + ... by least squares.

    The positions are centred and scaled to [-1, 1] and the design matrix is brought to triangular
    form by reflections; the normal equations, which would halve the digits, are never formed.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Positions and observations; n > degree + 1.
    degree : int
        Degree of the polynomial, from 0; up to about 12 keeps its accuracy.
    weights : array_like, shape (n,), optional
        Proportional to 1 / variance of each observation, >= 0.  Only their ratios matter for the
        coefficients and their covariance; default 1.

    Raises
    ------
    UsageError
        If lengths differ, a number is not finite, or a weight is negative.
    RefusedInput
        If the points are too few or too few of their positions differ.

    References
    ----------
    G. H. Golub and C. F. Van Loan, Matrix Computations, 4th ed. (2013), 5.3 (least squares by
    orthogonal triangularisation, refinement).
    """
    x, y, w = _checked(x, y, degree, weights)
    used = w > 0.0
    dof = int(np.count_nonzero(used)) - (degree + 1)
    if dof < 1:
        raise RefusedInput(
            f"{dof + degree + 1} points cannot carry a polynomial of degree {degree} and its"
            " uncertainty",
            hint=f"at least {degree + 2} points are wanted",
        )
    low, high = float(x[used].min()), float(x[used].max())
    centre, half_width = low + 0.5 * (high - low), 0.5 * (high - low) or 1.0
    basis = np.vander((x - centre) / half_width, degree + 1, increasing=True)
    root = np.sqrt(w)
    orthogonal, triangle = np.linalg.qr(basis * root[:, np.newaxis])
    if np.linalg.cond(triangle) * len(x) * np.finfo(np.float64).eps >= 1.0:
        raise RefusedInput(
            f"the points stand at too few different positions for a polynomial of degree {degree}",
            hint=f"at least {degree + 1} different positions are wanted",
        )
    inverse = np.linalg.inv(triangle)
    scaled = np.zeros(degree + 1)
    for _ in range(2):  # the second round fits what rounding left of the first
        scaled = scaled + inverse @ (orthogonal.T @ (root * (y - basis @ scaled)))
    residuals = y - basis @ scaled
    residual_sd = math.sqrt(float(np.sum(w * residuals**2)) / dof)
    back = _back_from_scaled(centre, half_width, degree)
    spread = back @ inverse * residual_sd
    return PolynomialFit(
        coefficients=back @ scaled,
        covariance=spread @ spread.T,
        residuals=residuals,
        residual_sd=residual_sd,
        dof=dof,
        _centre=centre,
        _half_width=half_width,
        _scaled=scaled,
    )


def _back_from_scaled(centre: float, half_width: float, degree: int) -> Vector:
    """Matrix from coefficients of ((x - centre) / half_width)^n to coefficients of x^n."""
    back = np.zeros((degree + 1, degree + 1))
    for n in range(degree + 1):
        for k in range(n + 1):
            back[k, n] = math.comb(n, k) * (-centre) ** (n - k) / half_width**n
    return back


def _checked(
    x: ArrayLike, y: ArrayLike, degree: int, weights: ArrayLike | None
) -> tuple[Vector, Vector, Vector]:
    x = np.asarray(x, dtype=np.float64)
    y = np.asarray(y, dtype=np.float64)
    w = np.ones_like(x) if weights is None else np.asarray(weights, dtype=np.float64)
    if degree < 0:
        raise UsageError(
            f"a polynomial of degree {degree} was asked for, at least 0 is wanted",
            hint="2 is a parabola",
        )
    if x.ndim != 1 or not x.shape == y.shape == w.shape:
        raise UsageError(
            f"positions of shape {x.shape}, observations of shape {y.shape} and weights of shape"
            f" {w.shape} came, three rows of equal length are wanted",
            hint="pass one-dimensional arrays",
        )
    for name, numbers in (("positions", x), ("observations", y), ("weights", w)):
        if not np.isfinite(numbers).all():
            raise UsageError(
                f"a number that is not finite stands among the {name}",
                hint="leave out the points that hold no measurement",
            )
    if (w < 0.0).any():
        raise UsageError(
            "a negative weight came, weights of at least 0 are wanted",
            hint="a weight is proportional to 1 / variance; 0 leaves a point out",
        )
    return x, y, w
