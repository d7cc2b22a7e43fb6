"""Budgets, coverage and rounding against the worked examples of the GUM.

Source: JCGM 100:2008, Annex H (public).  Inputs and results as printed there; the further digits
are those of GTC, an independent library, computed in the test.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import GTC
import numpy as np
import pytest

from filmstress.records.budget import Budget, Term
from filmstress.records.quantity import Shape
from filmstress.stats.budget import combine, share_of
from filmstress.stats.coverage import estimate, t_factor, whole_dof
from filmstress.stats.rounding import round_pair
from filmstress.stats.straight_line import StraightLine, fit_line

DATA = Path(__file__).parent / "data"


def line(name: str, value: float, u: float, sensitivity: float, **more) -> Term:
    return Term(input=name, value=value, unit="1", u=u, sensitivity=sensitivity, **more)


# -- H.1: calibration of an end gauge (lengths in nm, temperatures in kelvin) ---------------------

STANDARD = 50_000_623.0
EXPANSION = 11.5e-6


def end_gauge() -> Budget:
    theta = -0.1  # mean deviation of the test bed from 20 degC
    rectangular = {"shape": Shape.RECTANGULAR}
    return combine(
        [
            line("standard", STANDARD, 25.0, 1.0, dof=18),
            line("repeated observations", 215.0, 5.8, 1.0, dof=24, evaluation="A"),
            line("comparator, random", 0.0, 3.9, 1.0, dof=5),
            line("comparator, systematic", 0.0, 6.7, 1.0, dof=8),
            line("expansion coefficient", EXPANSION, 2e-6 / math.sqrt(3), 0.0, **rectangular),
            line(
                "difference of expansion coefficients",
                0.0,
                1e-6 / math.sqrt(3),
                -STANDARD * theta,
                dof=50,
                **rectangular,
            ),
            line("temperature of the bed", theta, math.hypot(0.2, 0.5 / math.sqrt(2)), 0.0),
            line(
                "difference of temperatures",
                0.0,
                0.05 / math.sqrt(3),
                -STANDARD * EXPANSION,
                dof=2,
                **rectangular,
            ),
        ]
    )


def test_h1_as_printed() -> None:
    """H.1.5 and H.1.6: u = 32 nm, 16 degrees of freedom, t99 = 2.92, U99 = 93 nm."""
    budget = end_gauge()
    assert round_pair(STANDARD + 215.0, budget.u) == ("50000838", "32")
    assert math.floor(budget.dof * 10) / 10 == 16.7
    assert whole_dof(budget.dof) == 16
    assert f"{t_factor(0.99, 16):.2f}" == "2.92"
    result = estimate(STANDARD + 215.0, "nm", u=budget.u, dof=budget.dof, p=0.99)
    assert result.expanded == pytest.approx(93.0, abs=1.0)  # printed from u already rounded to 32


def test_h1_contributions_as_printed() -> None:
    """Table H.1: 25, 9.7, 0, 2.9, 0 and 16.6 nm."""
    printed = {
        "standard": 25.0,
        "expansion coefficient": 0.0,
        "difference of expansion coefficients": 2.9,
        "temperature of the bed": 0.0,
        "difference of temperatures": 16.6,
    }
    rows = {row.term.input: row.term for row in end_gauge().rows}
    for name, contribution in printed.items():
        assert rows[name].contribution == pytest.approx(contribution, abs=0.05)
    comparison = [
        rows[name].contribution
        for name in ("repeated observations", "comparator, random", "comparator, systematic")
    ]
    assert math.hypot(*comparison) == pytest.approx(9.7, abs=0.05)


def test_h1_equals_gtc() -> None:
    standard = GTC.ureal(STANDARD, 25, df=18)
    difference = GTC.ureal(215, 5.8, df=24) + GTC.ureal(0, 3.9, df=5) + GTC.ureal(0, 6.7, df=8)
    expansion = GTC.ureal(EXPANSION, 2e-6 / math.sqrt(3))
    expansions = GTC.ureal(0, 1e-6 / math.sqrt(3), df=50)
    bed = GTC.ureal(-0.1, 0.2) + GTC.ureal(0, 0.5 / math.sqrt(2))
    temperatures = GTC.ureal(0, 0.05 / math.sqrt(3), df=2)
    length = standard + difference - standard * (expansions * bed + expansion * temperatures)
    budget = end_gauge()
    assert budget.u == pytest.approx(length.u, rel=1e-12)
    assert budget.dof == pytest.approx(length.df, rel=1e-9)


# -- H.2: resistance, reactance and impedance from correlated observations -----------------------


@pytest.mark.parametrize(
    ("output", "printed", "printed_u"),
    [
        ("resistance", 127.732, 0.071),
        ("reactance", 219.847, 0.295),
        ("impedance", 254.260, 0.236),
    ],
)
def test_h2_correlated_means(output: str, printed: float, printed_u: float) -> None:
    """Tables H.2 (inputs) and H.4 (results, ohm), from memory.

    Table H.2 rounds its correlation coefficients to two digits, and in R the terms nearly cancel:
    hence 2 % on u.
    """
    volt, ampere, phase = 4.9990, 19.6610e-3, 1.04446
    ratio = volt / ampere
    value, of_phase = {
        "resistance": (ratio * math.cos(phase), -ratio * math.sin(phase)),
        "reactance": (ratio * math.sin(phase), ratio * math.cos(phase)),
        "impedance": (ratio, 0.0),
    }[output]
    budget = combine(
        [
            line("V", volt, 0.0032, value / volt, dof=4, evaluation="A"),
            line("I", ampere, 0.0095e-3, -value / ampere, dof=4, evaluation="A"),
            line("phi", phase, 0.00075, of_phase, dof=4, evaluation="A"),
        ],
        {("V", "I"): -0.36, ("V", "phi"): 0.86, ("I", "phi"): -0.65},
    )
    assert value == pytest.approx(printed, abs=0.001)
    assert budget.u == pytest.approx(printed_u, rel=0.02)
    assert sum(row.share for row in budget.rows) == pytest.approx(1.0)
    assert budget.dof == pytest.approx(4.0)  # five simultaneous sets stand behind all three means


# -- H.3: calibration of a thermometer, a straight line -------------------------------------------


def thermometer():
    with (DATA / "gum_h3.csv").open() as file:
        rows = list(csv.DictReader(file))
    t = np.array([float(row["t_degC"]) for row in rows])
    b = np.array([float(row["b_degC"]) for row in rows])
    return t, b, fit_line(t - 20.0, b)


def at_20(fit: StraightLine) -> tuple[np.ndarray, np.ndarray, float]:
    """(y1, y2), their uncertainties and correlation, of a line told by its centre."""
    u1 = math.hypot(fit.level_u, fit.centre * fit.slope_u)
    correlation = -fit.centre * fit.slope_u / u1
    return np.array([fit.intercept, fit.slope]), np.array([u1, fit.slope_u]), correlation


def correction_at(t: float, *, correlated: bool = True) -> tuple[float, Budget]:
    _, _, fit = thermometer()
    (y1, y2), (u1, u2), correlation = at_20(fit)
    terms = [
        line("y1", y1, u1, 1.0, dof=fit.dof, evaluation="A"),
        line("y2", y2, u2, t - 20.0, dof=fit.dof, evaluation="A"),
    ]
    r = {("y1", "y2"): correlation} if correlated else None
    return y1 + y2 * (t - 20.0), combine(terms, r)


def test_h3_line_as_printed() -> None:
    """H.3.3: y1 = -0.1712(29), y2 = 0.002 18(67), r = -0.930, s = 0.0035."""
    _, _, fit = thermometer()
    found, errors, correlation = at_20(fit)
    pairs = zip(found, errors, strict=True)
    assert [round_pair(*pair) for pair in pairs] == [("-0.1712", "0.0029"), ("0.00218", "0.00067")]
    assert f"{correlation:.3f}" == "-0.930"
    assert f"{fit.residual_sd:.4f}" == "0.0035"
    assert fit.dof == 9


def test_h3_prediction_as_printed() -> None:
    """H.3.4: b(30) = -0.1494, u = 0.0041, with 9 degrees of freedom."""
    value, budget = correction_at(30.0)
    assert round_pair(value, budget.u) == ("-0.1494", "0.0041")
    assert whole_dof(budget.dof) == 9
    assert share_of(budget, "y1") + share_of(budget, "y2") == pytest.approx(1.0)


def test_h3_equals_gtc() -> None:
    t, b, fit = thermometer()
    a, slope = GTC.type_a.line_fit(t - 20.0, b).a_b
    found, errors, _ = at_20(fit)
    assert found == pytest.approx([a.x, slope.x], rel=1e-10)
    assert errors == pytest.approx([a.u, slope.u], rel=1e-10)
    for where in (21.5, 24.0, 30.0):
        predicted = a + slope * (where - 20.0)
        value, budget = correction_at(where)
        assert value == pytest.approx(predicted.x, rel=1e-10)
        assert budget.u == pytest.approx(predicted.u, rel=1e-9)
        assert budget.dof == pytest.approx(predicted.df, rel=1e-9)
        assert fit.budget(1.0, where - 20.0 - fit.centre).u == pytest.approx(predicted.u, rel=1e-9)


def test_h3_covariance_is_not_optional() -> None:
    """Without the correlation, u at 30 degC would be 0.0073 in place of 0.0041."""
    assert f"{correction_at(30.0, correlated=False)[1].u:.4f}" == "0.0073"
