"""``--monte-carlo``, the intervals it prints, and the budget as a table."""

from __future__ import annotations

import csv
import io

import pytest

from tests.cli._contract import check
from tests.cli._run import DEMO, MEASURE, POST, PRE, SUBSTRATE, run

WIDE = ["--film-thickness", "500 nm ± 20 % (limits)"]


def test_it_is_null_where_it_did_not_run() -> None:
    data = run(*MEASURE, "--json").data
    assert data["monte_carlo"] is None


def test_what_it_holds() -> None:
    data = run(*MEASURE, "--monte-carlo", "--seed", "7", "--json").data
    check(data)
    found = data["monte_carlo"]
    assert (found["seed"], found["asked"]) == (7, True)
    assert found["draws"] >= 20_000
    for name in ("stress", "force_per_width"):
        one = found[name]
        assert one["validated"] is True
        assert one["first_order_interval"] == data[name]["interval"]
        for end, first in zip(one["interval"], one["first_order_interval"], strict=True):
            assert abs(end - first) <= one["tolerance"]
        assert one["shortest_interval"][0] < one["value"] < one["shortest_interval"][1]
        assert one["standard_uncertainty"] == pytest.approx(
            data[name]["standard_uncertainty"], rel=0.05
        )


def test_the_interval_stated_is_its_own_where_the_first_order_fails() -> None:
    words = ["measure", PRE, POST, *SUBSTRATE, *WIDE]
    data = run(*words, "--json").data
    check(data)
    assert "first-order-fails" in [notice["code"] for notice in data["warnings"]]
    assert data["monte_carlo"]["asked"] is False
    assert data["stress"]["interval"] == data["monte_carlo"]["stress"]["interval"]
    text = run(*words).out
    assert "95 %, by Monte Carlo: " in text
    assert "first order" in text
    assert "±" in text.splitlines()[0]


def test_a_refused_measurement_has_none() -> None:
    data = run(*MEASURE, "--support", "clamped", "--monte-carlo", "--json").data
    check(data)
    assert data["monte_carlo"] is None


def test_a_seed_below_zero_is_no_seed() -> None:
    assert run(*MEASURE, "--seed", "-1").code == 2


def test_the_budget_as_a_table() -> None:
    rows = list(csv.DictReader(io.StringIO(run(*MEASURE, "--csv").out)))
    budget = run(*MEASURE, "--json").data["budget"]
    assert [row["input"] for row in rows] == [row["input"] for row in budget]
    for row, one in zip(rows, budget, strict=True):
        assert float(row["sensitivity [Pa per unit]"]) == one["sensitivity"]
        assert float(row["contribution [Pa]"]) == one["contribution"]
        for name in ("distribution", "evaluation", "uncertainty_source", "common_to", "unit"):
            assert row[name] == one[name]
    assert sum(float(row["share"]) for row in rows) == pytest.approx(1.0)


def test_without_film_thickness_the_budget_is_of_the_force() -> None:
    head = run("measure", PRE, POST, *SUBSTRATE, "--csv").out.splitlines()[0]
    assert "contribution [N/m]" in head


def test_json_and_csv_exclude_each_other() -> None:
    assert run(*MEASURE, "--json", "--csv").code == 2


def test_a_lot_takes_it_for_every_wafer() -> None:
    lot = str(DEMO / "M24-11" / "lot.toml")
    plain, drawn = (run("lot", lot, "--json", *more).data for more in ([], ["--monte-carlo"]))
    check(drawn)
    assert all(wafer["monte_carlo"] is not None for wafer in drawn["wafers"])
    assert drawn["decision"] == plain["decision"]
