"""Differences and straight lines against worked examples; the source stands beside each."""

from __future__ import annotations

import numpy as np
import pytest

from filmstress.stats.comparison import difference
from filmstress.stats.crossing import crossing
from filmstress.stats.fieller import SetKind
from filmstress.stats.groups import group
from filmstress.stats.line_checks import check_line
from filmstress.stats.straight_line import Scatter, fit_line


def of_summary(name: str, count: int, mean: float, sd: float):
    """Values with exactly this mean and standard deviation."""
    values = np.linspace(-1.0, 1.0, count)
    return group(name, mean + sd * values / values.std(ddof=1))


def test_two_means_of_the_handbook() -> None:
    """NIST/SEMATECH e-Handbook, 1.3.5.3 (miles per gallon): T = -12.62059 pooled, -12.946 Welch."""
    first = of_summary("US", 249, 20.14458, 6.41470)
    second = of_summary("Japan", 79, 30.48101, 6.10771)
    pooled = difference(first, second, equal_spread=True)
    assert pooled.value / pooled.u == pytest.approx(-12.62059, abs=2e-5)
    assert pooled.dof == 326
    welch = difference(first, second)
    assert welch.value / welch.u == pytest.approx(-12.94627, abs=2e-5)
    assert welch.dof == pytest.approx(136.8750, abs=1e-3)


def test_level_of_a_reaction_chamber() -> None:
    """Graybill and Iyer, Regression Analysis (1994), p. 433: 66.5 [65.07, 68.03] at 99 %."""
    text = "206.36 225.52 252.18 289.33 318.11 349.49 383.03 410.70 444.40 469.14 501.16"
    line = fit_line(np.arange(0.0, 101.0, 10.0), [float(one) for one in text.split()])
    found = crossing(line, 400.0, p=0.99)
    assert f"{found.x:.1f}" == "66.5"
    assert found.set.kind is SetKind.INTERVAL
    assert [f"{one:.2f}" for one in (found.set.low, found.set.high)] == ["65.07", "68.03"]
    assert not found.extrapolated


def test_standard_additions() -> None:
    """Miller and Miller's textbook data (from memory): slope 0.00535, x0 -48.0."""
    y = [0.257, 0.314, 0.364, 0.413, 0.468, 0.528, 0.574, 0.635]
    line = fit_line(np.arange(0.0, 71.0, 10.0), y)
    found = crossing(line)
    assert line.slope == pytest.approx(0.005349, abs=5e-7)
    assert line.intercept == pytest.approx(0.2569, abs=5e-5)
    assert f"{-found.x:.1f}" == "48.0"
    assert found.extrapolated


def test_uncertain_in_both_coordinates() -> None:
    """Pearson's points with York's weights, D. York et al., Am. J. Phys. 72 (2004) 367.

    Table II (from memory): intercept 5.47991(295), slope -0.480533(58), S/(n - 2) = 1.4833.
    """
    x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4]
    y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5]
    of_x = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0])
    of_y = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
    line = fit_line(x, y, x_u=of_x**-0.5, y_u=of_y**-0.5, scatter=Scatter.STATED)
    assert line.intercept == pytest.approx(5.47991, abs=1e-5)
    assert line.slope == pytest.approx(-0.480533, abs=1e-6)
    assert line.budget(1.0, -line.centre).u == pytest.approx(0.295, abs=5e-4)
    assert line.slope_u == pytest.approx(0.0580, abs=5e-5)
    assert line.weights @ line.residuals**2 / 8 == pytest.approx(1.4833, abs=5e-5)
    excess = check_line(line).excess_scatter
    assert excess is not None
    assert 0.1 < excess < 0.2
