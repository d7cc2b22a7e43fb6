"""Recorded lots as points, charts, events and capability."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.charting.charts import ChartKind, RecipeChart, chart_recipe, read_baseline
from filmstress.charting.lots import Series, series_of
from filmstress.charting.process import performance
from filmstress.errors import RefusedInput, UsageError
from filmstress.stats.control.chart import Kind
from tests.charting._series import found, series, term, wafer

# Around -200 MPa, with moving ranges of 2, 4, 2, 4, ...
STEADY = [-201e6, -199e6, -203e6, -201e6, -197e6, -199e6] * 4


def charted(made: RecipeChart | Series) -> RecipeChart:
    assert isinstance(made, RecipeChart)
    return made


def test_points_are_means_of_products() -> None:
    lots = [
        [wafer(-2e8), wafer(-4e8), wafer(9e9, role="witness")],
        [wafer(None, refusal="no-common-length"), wafer(None)],
        [wafer(-1e8), wafer(None, refusal="no-common-length")],
    ]
    made = series_of("nitride", found(lots))
    assert [one.mean for one in made.points] == [-3e8, -1e8]
    assert [one.lot for one in made.points] == ["A1", "A3"]
    assert (made.refused, made.unstated, made.witnesses) == (2, 1, 1)
    assert (made.empty, made.wafers) == (("A2",), 3)
    assert [one.lot for one in series_of("nitride", found(lots), last=1).points] == ["A3"]


def test_what_all_lots_share_is_told_from_what_differs() -> None:
    """Two wafers a lot.  Own 3 and 4, lot 6, gauge 8 [MPa]: of the mean, by hand."""
    lots = [
        [
            wafer(
                -2e8,
                term("noise", own, dof=8.0),
                term("film", 6e6, f"lot A{i}"),
                term("g", 8e6, "g"),
            )
            for own in (3e6, 4e6)
        ]
        for i in (1, 2)
    ]
    made = series_of("nitride", found(lots))
    for one in made.points:
        assert one.own_u == pytest.approx(math.hypot(math.hypot(3e6, 4e6) / 2.0, 6e6))
        assert one.shared_u == pytest.approx(8e6)
        # Of one wafer: root mean square of 3 and 4, and 6.
        assert one.wafer_u == pytest.approx(math.sqrt(12.5e12 + 36e12))
        # Welch and Satterthwaite: the effects 3/2 and 4/2 have 8 each, the others infinitely many.
        u = one.u or 0.0
        assert one.dof == pytest.approx(8.0 * u**4 / (1.5e6**4 + 2e6**4))


def test_an_unknown_uncertainty_stays_unknown() -> None:
    lots = [[replace(wafer(-2e8), stress_u=None), wafer(-2.1e8)]]
    (point,) = series_of("nitride", found(lots)).points
    assert (point.u, point.own_u, point.wafer_u, point.shared_u) == (None,) * 4


def test_limits_come_from_the_baseline_alone() -> None:
    """Moving ranges of the first six: 2, 4, 2, 4, 2, mean 2.8 MPa; three over 1.128 of that."""
    lots = series([[x] for x in [*STEADY, -150e6]])
    made = charted(chart_recipe(lots, baseline="6"))
    assert made.kind is ChartKind.INDIVIDUALS
    main = made.charts[0]
    assert main.centre[0] == pytest.approx(-200e6)
    assert main.upper[0] == pytest.approx(-200e6 + 3.0 * 2.8e6 / 1.128, rel=1e-4)
    assert made.reference.provisional
    assert not charted(chart_recipe(lots)).reference.provisional
    (event,) = [one for one in made.events if one.kind is Kind.INDIVIDUALS]
    assert (event.side, event.points) == ("above", (24,))
    same = charted(chart_recipe(lots, baseline="2026-03-01..2026-03-06"))
    assert same.baseline == made.baseline == (0, 6)


def test_signals_that_touch_are_one_event() -> None:
    lots = series([[x] for x in [*STEADY, *[-197.5e6, -198.5e6] * 6]])
    made = charted(chart_recipe(lots, baseline="24", rules=["western-electric-4"]))
    (event,) = made.events
    assert event.side == "above"
    # The last three of the baseline lie at -201, -197 and -199: the run begins with -197.
    assert event.points == tuple(range(22, 36))
    assert event.signalled == 29


def test_kinds_and_what_they_want() -> None:
    random = np.random.default_rng(2)
    three = [list(-2e8 + 5e6 * random.standard_normal() + 2e6 * random.standard_normal(3))]
    three += [list(-2e8 + 5e6 * random.standard_normal() + 2e6 * random.standard_normal(3))]
    three *= 5
    lots = series(three)
    assert charted(chart_recipe(lots)).kind is ChartKind.THREE_WAY
    for kind in ChartKind:
        made = charted(chart_recipe(lots, kind=kind))
        assert made.run_length.average > 300.0
        assert len(made.charts) == {"three-way": 3, "ewma": 1, "cusum": 0}.get(kind, 2)
        assert all(len(one.points) == 10 for one in made.charts)
    mixed = series([*three, [-2e8]])
    assert charted(chart_recipe(mixed)).kind is ChartKind.INDIVIDUALS
    made = charted(chart_recipe(mixed, kind=ChartKind.THREE_WAY))
    assert (made.single, len(made.points)) == (1, 10)
    for kind in (ChartKind.EWMA, ChartKind.CUSUM):
        with pytest.raises(UsageError, match="run rules"):
            chart_recipe(lots, kind=kind, rules=["nelson"])


def test_a_small_lasting_shift_is_dated_by_the_sums() -> None:
    made = charted(
        chart_recipe(
            series([[x] for x in [*STEADY, *[x + 4e6 for x in STEADY]]]),
            kind=ChartKind.CUSUM,
            baseline="24",
        )
    )
    (event,) = made.events
    assert event.side == "above"
    # The shift of 4 MPa begins with the 25th; the sum may have begun a lot or two before.
    assert 21 <= event.first <= 25
    assert event.shift == pytest.approx(4e6, rel=0.4)


def test_capability_of_single_wafers_by_hand() -> None:
    """Lots of one wafer: plain mean and SD; 1 MPa of measurement taken out."""
    values = np.array(STEADY)
    made = performance(series([[x] for x in STEADY], lower=-230e6, upper=-180e6))
    assert made is not None
    sd = values.std(ddof=1)
    assert made.long.sigma == pytest.approx(sd)
    assert (made.long.dof, made.long.count) == pytest.approx((23.0, 24.0))
    assert made.raw_long.actual.value == pytest.approx(20e6 / (3.0 * sd))
    assert made.raw_long.potential is not None
    assert made.raw_long.potential.value == pytest.approx(50e6 / (6.0 * sd))
    assert made.net_long is not None
    assert made.net_long.actual.value == pytest.approx(20e6 / (3.0 * math.sqrt(sd**2 - 1e12)))
    assert not made.changed
    assert performance(series([[x] for x in STEADY])) is None


def test_scatter_of_balanced_lots_is_the_sum_of_its_components() -> None:
    """One-way analysis of variance by its textbook formulas."""
    rows = -2e8 + np.random.default_rng(3).normal(0.0, 4e6, (12, 1)) * np.ones(3)
    rows += np.random.default_rng(4).normal(0.0, 2e6, (12, 3))
    made = performance(series(rows.tolist(), upper=0.0))
    assert made is not None
    within = rows.var(axis=1, ddof=1).mean()
    between = rows.mean(axis=1).var(ddof=1) - within / 3.0
    assert made.long.sigma == pytest.approx(math.sqrt(within + between))
    # Between 11, that of the lots, and 35, that of all wafers.
    assert 11.0 < made.long.dof < 35.0
    assert 12.0 < made.long.count < 36.0


def test_a_measurement_that_explains_everything_leaves_nothing_to_say() -> None:
    lots = [[wafer(x, term("noise", 5e6))] for x in STEADY]
    made = performance(series_of("nitride", found(lots, lower=-230e6)))
    assert made is not None
    assert (made.net, made.net_long) == (None, None)


@given(
    st.lists(
        st.lists(st.integers(-400, 400), min_size=1, max_size=4), min_size=5, max_size=12
    ).filter(lambda lots: len({sum(lot) / len(lot) for lot in lots}) > 1)
)
def test_tensile_and_compressive_recipes_chart_alike(lots: list[list[int]]) -> None:
    one = [[1e6 * x for x in lot] for lot in lots]
    other = [[-x for x in lot] for lot in one]
    kind, rules = ChartKind.INDIVIDUALS, ["western-electric"]
    made = charted(chart_recipe(series(one, lower=-9e8), kind=kind, rules=rules))
    mirror = charted(chart_recipe(series(other, upper=9e8), kind=kind, rules=rules))
    assert made.charts[0].upper == pytest.approx(-mirror.charts[0].lower)
    assert [one.points for one in made.events] == [one.points for one in mirror.events]
    assert made.performance is not None
    assert mirror.performance is not None
    first, second = made.performance.raw.actual, mirror.performance.raw.actual
    assert (first.value, first.low) == pytest.approx((second.value, second.low), abs=1e-6)


def test_too_few_lots_give_no_chart() -> None:
    assert isinstance(chart_recipe(series([[-2e8]] * 4)), Series)
    assert isinstance(chart_recipe(series([])), Series)
    single = chart_recipe(series([[x] for x in STEADY]), kind=ChartKind.XBAR_R)
    assert isinstance(single, Series)


def test_wafers_exactly_alike_within_lots_are_charted_by_their_means() -> None:
    made = charted(chart_recipe(series([[x, x] for x in STEADY])))
    assert (made.kind, made.three_way) == (ChartKind.INDIVIDUALS, None)
    # A single wafer behind the baseline is charted by the means too.
    several = [[x - 1e6, x] for x in STEADY]
    made = charted(chart_recipe(series([*several, [-2e8]]), baseline="24"))
    assert (made.kind, made.three_way) == (ChartKind.INDIVIDUALS, None)


def test_lots_that_do_not_scatter_are_refused() -> None:
    with pytest.raises(RefusedInput, match="exactly alike"):
        chart_recipe(series([[-2e8]] * 6))


@pytest.mark.parametrize(
    "text", ["4", "x", "-5", "2026-03-01", "2026-03-01..", "2026-03-01..x", "..", "1..2..3"]
)
def test_a_baseline_that_is_none(text: str) -> None:
    with pytest.raises(UsageError, match="baseline"):
        read_baseline(text)


@pytest.mark.parametrize("text", ["99", "2025-01-01..2025-12-31", "2026-03-01..2026-03-04"])
def test_a_baseline_of_too_few(text: str) -> None:
    with pytest.raises(RefusedInput, match=r"there are 24|at least 5 are wanted"):
        chart_recipe(series([[x] for x in STEADY]), baseline=text)
