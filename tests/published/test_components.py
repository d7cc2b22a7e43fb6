"""Components of variance and gauges against worked examples.

Sources: J. C. Pinheiro and D. M. Bates, Mixed-Effects Models in S and S-PLUS (2000), App. A.20, and
R. C. Littell et al. (1996), data set 4.4 (oxide: 8 lots, 3 wafers of each, 3 sites on each);
Measurement Systems Analysis Reference Manual, 4th ed. (2010), Tables III-B 7 and 8 (gauge: 10
parts, 3 appraisers, 3 trials; typed from memory, its sums of squares agree); NIST/SEMATECH
e-Handbook of Statistical Methods, 6.1.6.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from filmstress.stats.comparison import difference
from filmstress.stats.groups import group, lot_means
from filmstress.stats.variance_components.gauge_study import gauge_study
from filmstress.stats.variance_components.likelihood import reml_nested
from filmstress.stats.variance_components.nested import nested_anova
from filmstress.stats.variance_components.records import Method

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def oxide():
    rows = table("oxide.csv")
    levels = {"lot": [row["Lot"] for row in rows], "wafer": [row["Wafer"] for row in rows]}
    return [float(row["Thickness"]) for row in rows], levels, [row["Source"] for row in rows]


def test_oxide_by_analysis_of_variance() -> None:
    """Sums of squares follow from the data by hand; components 129.91, 35.87, 12.57 as printed."""
    values, levels, _ = oxide()
    found = nested_anova(values, levels, residual="site")
    assert [one.dof for one in found.table] == [7, 16, 48]
    squares = [one.sum_of_squares for one in found.table]
    assert squares == pytest.approx([9025.319444, 1922.666667, 603.333333], abs=1e-6)
    assert [f"{one.variance:.2f}" for one in found.components] == ["129.91", "35.87", "12.57"]
    assert [f"{one.sd:.3f}" for one in found.components] == ["11.398", "5.989", "3.545"]
    assert found.mean == pytest.approx(2000.153, abs=5e-4)
    assert found.mean_u == pytest.approx(4.2317, abs=5e-5)
    assert found.mean_dof == pytest.approx(7.0)
    assert found.balanced


def test_oxide_by_likelihood() -> None:
    values, levels, _ = oxide()
    found = reml_nested(values, levels, residual="site")
    assert [f"{one.sd:.3f}" for one in found.components] == ["11.398", "5.989", "3.545"]
    assert found.mean_u == pytest.approx(4.2317, abs=5e-5)
    assert found.mean_dof == pytest.approx(7.0, rel=1e-4)


def test_sources_are_compared_by_lots() -> None:
    """Littell et al.: F = 1.526 with 1 and 6 degrees of freedom, p = 0.26287."""
    values, levels, sources = oxide()
    groups = []
    for source in ("1", "2"):
        chosen = [i for i, one in enumerate(sources) if one == source]
        means, _ = lot_means([values[i] for i in chosen], [levels["lot"][i] for i in chosen])
        groups.append(group(f"source {source}", means))
    found = difference(groups[1], groups[0], equal_spread=True)
    assert found.value == pytest.approx(10.083, abs=5e-4)
    assert found.dof == 6.0
    assert (found.value / found.u) ** 2 == pytest.approx(1.526, abs=5e-4)
    assert found.p_value == pytest.approx(0.26287, abs=5e-6)
    assert found.holds_zero


def gauge():
    rows = table("gauge_10x3x3.csv")
    parts, operators = ([row[name] for row in rows] for name in ("part", "appraiser"))
    return [float(row["value"]) for row in rows], parts, operators


def test_gauge_of_the_manual() -> None:
    """Tables III-B 7 and 8: sums of squares, pooled standard deviations and percentages."""
    values, parts, operators = gauge()
    found = gauge_study(values, parts, operators)
    squares = {one.source: (one.sum_of_squares, one.dof) for one in found.table}
    assert squares["part"] == (pytest.approx(88.3619, abs=5e-5), 9)
    assert squares["operator"] == (pytest.approx(3.1673, abs=5e-5), 2)
    assert squares["repeat"] == (pytest.approx(0.3590 + 2.7589, abs=1e-4), 78)
    assert found.pooled
    assert found.interaction_p == pytest.approx(0.974, abs=5e-4)
    assert found.interaction is None
    assert found.repeatability.sd == pytest.approx(0.199933, abs=5e-7)
    assert found.reproducibility is not None
    assert found.reproducibility.sd == pytest.approx(0.226838, abs=5e-7)
    assert found.gauge.sd == pytest.approx(0.302373, abs=2e-6)
    assert found.part.sd == pytest.approx(1.042327, abs=5e-7)
    assert found.total.sd == pytest.approx(1.085, abs=5e-4)
    assert f"{found.of_total.value:.1f}" == "27.9"
    assert found.categories == 4


def test_gauge_without_one_reading() -> None:
    """The first reading left out; statsmodels 0.15 MixedLM, REML, two crossed random effects."""
    values, parts, operators = gauge()
    found = gauge_study(values[1:], parts[1:], operators[1:])
    assert found.method is Method.REML
    assert found.pooled
    assert found.part is not None
    assert found.reproducibility is not None
    got = (found.part, found.reproducibility, found.repeatability)
    wanted = (1.08665, 0.0519062, 0.0404240)
    assert [one.variance for one in got] == pytest.approx(wanted, rel=2e-4)
    whole = gauge_study(values, parts, operators)
    for name in ("gauge", "repeatability"):
        one, other = getattr(found, name), getattr(whole, name)
        assert (one.low, one.high) == pytest.approx((other.low, other.high), rel=0.05)


def test_gauge_without_pooling() -> None:
    """The same by the expected mean squares, by hand: a negative interaction is reported as 0."""
    values, parts, operators = gauge()
    found = gauge_study(values, parts, operators, pool_above=1.0)
    repeat, interaction = 2.75893333 / 60, 0.35898222 / 18
    assert found.repeatability.variance == pytest.approx(repeat, abs=1e-9)
    assert found.interaction is not None
    assert found.interaction.raw_variance == pytest.approx((interaction - repeat) / 3, abs=1e-9)
    assert (found.interaction.variance, found.interaction.negative) == (0.0, True)
    assert found.part is not None
    assert found.part.variance == pytest.approx((88.36193444 / 9 - interaction) / 9, abs=1e-9)
