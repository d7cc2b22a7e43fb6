"""Polynomial least squares against certified values.

Source: NIST Statistical Reference Datasets, Linear Least Squares (public domain): Pontius,
Wampler1 to Wampler5 (R. H. Wampler, J. Am. Stat. Assoc. 65 (1970) 549) and Filip.  Estimates and
standard deviations have the certified 15 digits.  The residual standard deviations of Wampler3 to
5 and Filip were recomputed from the data with 60 digits.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from filmstress.stats.least_squares import PolynomialFit, fit_polynomial
from filmstress.stats.noise import fit_quadratic
from filmstress.stats.plain_fit import with_plain_parabola

DATA = Path(__file__).parent / "data"
# Matching digits wanted.  The y of Wampler5 reach 2.6e7 beside coefficients of 1, so rounding at
# the size of y leaves 8 digits at best; Filip is degree 10 on positions from -8.8 to -3.1.
DIGITS = {
    "Pontius": 10,
    "Wampler1": 9,
    "Wampler2": 10,
    "Wampler3": 9,
    "Wampler4": 9,
    "Wampler5": 7,
    "Filip": 10,
}
EXACT = ("Wampler1", "Wampler2")  # y is the polynomial itself: certified deviations are 0


def points(dataset: str) -> tuple[np.ndarray, np.ndarray]:
    with (DATA / "strd_data.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["dataset"] == dataset]
    return np.array([float(r["x"]) for r in rows]), np.array([float(r["y"]) for r in rows])


def certified(dataset: str) -> tuple[np.ndarray, np.ndarray, float]:
    with (DATA / "strd_certified.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["dataset"] == dataset]
    parameters = [row for row in rows if row["parameter"].startswith("B")]
    (residual_sd,) = (float(r["estimate"]) for r in rows if r["parameter"] == "residual_sd")
    return (
        np.array([float(row["estimate"]) for row in parameters]),
        np.array([float(row["standard_deviation"]) for row in parameters]),
        residual_sd,
    )


def fitted(dataset: str) -> PolynomialFit:
    return fit_polynomial(*points(dataset), degree=len(certified(dataset)[0]) - 1)


def worst_digits(found: np.ndarray, wanted: np.ndarray) -> float:
    return float(-np.log10(np.max(np.abs(found / wanted - 1.0)) + 1e-17))


@pytest.mark.parametrize("dataset", DIGITS)
def test_coefficients(dataset: str) -> None:
    estimates, _, _ = certified(dataset)
    assert worst_digits(fitted(dataset).coefficients, estimates) >= DIGITS[dataset]


@pytest.mark.parametrize("dataset", [name for name in DIGITS if name not in EXACT])
def test_standard_errors_and_residual_sd(dataset: str) -> None:
    _, deviations, residual_sd = certified(dataset)
    fit = fitted(dataset)
    assert worst_digits(fit.standard_errors, deviations) >= 10
    assert fit.residual_sd == pytest.approx(residual_sd, rel=1e-10)
    assert fit.dof == len(points(dataset)[0]) - len(deviations)


@pytest.mark.parametrize("dataset", EXACT)
def test_exact_polynomials_leave_no_residual(dataset: str) -> None:
    _, y = points(dataset)
    assert fitted(dataset).residual_sd < 1e-14 * np.abs(y).max()


def test_half_the_weight_twice_is_the_certified_fit() -> None:
    x, y = points("Pontius")
    estimates, deviations, residual_sd = certified("Pontius")
    fit = fit_polynomial(np.tile(x, 2), np.tile(y, 2), weights=np.full(2 * len(x), 0.5))
    assert worst_digits(fit.coefficients, estimates) >= 10
    assert worst_digits(fit.standard_errors / fit.residual_sd, deviations / residual_sd) >= 10


def test_the_parabola_of_a_scan_is_the_certified_one() -> None:
    """Pontius measured every position twice: the means have the same least-squares parabola."""
    x, y = points("Pontius")
    estimates, _, _ = certified("Pontius")
    at = np.unique(x)
    means = np.array([y[x == one].mean() for one in at])
    fit = with_plain_parabola(fit_quadratic(at, means), at, means)
    assert fit.parabola.curvature == pytest.approx(2.0 * estimates[2], rel=1e-9)


def test_the_check_can_tell_a_lesser_method() -> None:
    """On Filip, normal equations lose everything and raw powers of x half of the digits."""
    x, y = points("Filip")
    estimates, _, _ = certified("Filip")
    raw = np.vander(x, 11, increasing=True)
    normal_equations = np.linalg.solve(raw.T @ raw, raw.T @ y)
    assert worst_digits(normal_equations, estimates) < 3
    naive = np.polynomial.polynomial.polyfit(x, y, 10)
    assert worst_digits(naive, estimates) < DIGITS["Filip"]


def test_the_check_can_tell_one_mistyped_position() -> None:
    x, y = points("Filip")
    x = x.copy()
    x[np.argmin(np.abs(x + 6.995678626))] += 0.02
    assert worst_digits(fit_polynomial(x, y, degree=10).coefficients, certified("Filip")[0]) < 3
