"""Whether a straight line holds: against repeats, against a bend, against stated uncertainties."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from filmstress.stats.straight_line import Scatter, StraightLine


@dataclass(frozen=True, slots=True)
class LineChecks:
    """p-values of three checks; each None where the points do not allow it.

    Attributes
    ----------
    lack_of_fit : float or None
        Of means at equal x lying off the line, against the scatter of repeats at equal x.
    bend : float or None
        Of a parabola fitting no better than the line.  A small one says that the relation bends,
        and a crossing read from the line is off.
    excess_scatter : float or None
        Of scatter this large if the stated uncertainties were complete (line resting on stated
        uncertainties only).
    """

    lack_of_fit: float | None
    bend: float | None
    excess_scatter: float | None


def check_line(line: StraightLine) -> LineChecks:
    """Check a fitted line.

    Notes
    -----
    With the weights of the fit.  Lack of fit: F test against pure error (needs three different x
    and a repeat).  Bend: t test of a square term (needs three different x and four points).  Inputs
    that the points share, and that bend nothing, are left out.

    References
    ----------
    N. R. Draper and H. Smith, Applied Regression Analysis, 3rd ed. (1998), 2.1 (lack of fit).
    """
    excess = None
    if line.scatter is Scatter.STATED:
        from scipy.special import gammaincc

        squares = float(line.weights @ line.residuals**2)
        excess = float(gammaincc(0.5 * (len(line.x) - 2), 0.5 * squares))
    return LineChecks(_lack_of_fit(line), _bend(line), excess)


def _lack_of_fit(line: StraightLine) -> float | None:
    places, at = np.unique(line.x, return_inverse=True)
    n, m = len(line.x), len(places)
    if m < 3 or n == m:
        return None
    w, r = line.weights, line.residuals
    means = np.bincount(at, w * r) / np.bincount(at, w)
    pure = float(w @ (r - means[at]) ** 2)
    total = float(w @ r**2)
    if pure == 0.0:
        return None
    return _f_tail(max(total - pure, 0.0) / (m - 2) / (pure / (n - m)), m - 2, n - m)


def _bend(line: StraightLine) -> float | None:
    n = len(line.x)
    if len(np.unique(line.x)) < 3 or n < 4:
        return None
    t = (line.x - line.centre) / np.ptp(line.x)
    root = np.sqrt(line.weights)
    design = root[:, None] * np.vander(t, 3)
    residuals = root * line.residuals
    solution = np.linalg.lstsq(design, residuals, rcond=None)[0]
    rest = float(np.sum((residuals - design @ solution) ** 2))
    straight = np.linalg.lstsq(design[:, 1:], residuals, rcond=None)[0]
    before = float(np.sum((residuals - design[:, 1:] @ straight) ** 2))
    gained = max(before - rest, 0.0)
    if line.scatter is Scatter.STATED:
        from scipy.special import gammaincc

        return float(gammaincc(0.5, 0.5 * gained))
    if rest == 0.0:
        return None
    return _f_tail(gained / (rest / (n - 3)), 1, n - 3)


def _f_tail(value: float, over: int, under: int) -> float:
    from scipy.special import fdtrc

    return float(fdtrc(over, under, value))
