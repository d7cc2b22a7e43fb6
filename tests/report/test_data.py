"""Results as data: the contract held on results made by hand, with the odd numbers of rooms."""

from __future__ import annotations

import dataclasses
import json
import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.quantity import Measured, Shape
from filmstress.report.data import nothing_found, result_data
from filmstress.report.quantities import bare_data, measured_data, quantity_data, values_data
from filmstress.stats.coverage import estimate
from tests.cli._contract import check, check_quantity
from tests.report._lines import make_line
from tests.report._results import make_result


def written(data: dict[str, Any]) -> dict[str, Any]:
    """As a reader of the file gets it."""
    again: dict[str, Any] = json.loads(json.dumps(data, allow_nan=False))
    return again


RESULTS = {
    "good": make_result(),
    "refused": make_result(refusal=Notice(RefusalCode.CLAMPED, "the wafer was clamped")),
    "no thickness": make_result(film_m=None),
    "two azimuths": make_result(make_line(azimuth_deg=0.0), make_line(azimuth_deg=90.0)),
    "a dome": make_result(make_line(change_per_m=-3.6e-3)),
}


@pytest.mark.parametrize("name", RESULTS)
def test_results_keep_the_contract(name: str) -> None:
    check(written(result_data(RESULTS[name], "1")))


def test_nothing_found_has_the_same_keys() -> None:
    refusal = Notice(RefusalCode.UNREADABLE, "no such file")
    wafer = RESULTS["good"].wafer
    data = written(nothing_found(wafer, refusal, "1"))
    check(data)
    assert list(data) == list(dict.fromkeys(data))
    assert set(data) == set(result_data(RESULTS["good"], "1"))
    assert data["refusal"] == {"code": "unreadable", "message": "no such file"}


def test_the_line_that_matches_least_speaks_for_the_wafer() -> None:
    lines = [make_line(azimuth_deg=a) for a in (0.0, 90.0)]
    found = lines[1].registration
    assert found is not None
    worse = dataclasses.replace(lines[1], registration=dataclasses.replace(found, match=0.4))
    data = result_data(make_result(lines[0], worse), "1")
    assert data["registration"]["match"] == 0.4
    assert len(data["lines"]) == 2


numbers = st.floats(allow_nan=True, allow_infinity=True)


@given(numbers)
def test_never_a_number_that_json_does_not_know(value: float) -> None:
    told = bare_data(value, "m")
    if math.isfinite(value):
        check_quantity(written({"q": told})["q"])
    else:
        assert told is None
    again = written(values_data([[value, 1.0], [2.0, value]], "m"))
    assert again["values"][0][0] == (value if math.isfinite(value) else None)


@given(
    st.floats(-1e12, 1e12),
    st.one_of(st.none(), st.floats(0.0, 1e12)),
    st.one_of(st.just(math.inf), st.floats(1.0, 1e6)),
)
def test_every_estimate_is_a_whole_quantity(value: float, u: float | None, dof: float) -> None:
    data = quantity_data(estimate(value, "Pa", u=u, dof=dof))
    assert data is not None
    check_quantity(written(data))
    assert (data["degrees_of_freedom"] is None) == (u is None or dof == math.inf)


def test_an_input_says_how_it_was_read() -> None:
    read = Measured(525e-6, "m", 2e-6, shape=Shape.RECTANGULAR, read_as="± 2 um (limits)")
    data = measured_data(read)
    assert data is not None
    check_quantity(data)
    assert data["distribution"] == "rectangular"
    assert data["read_as"] == "± 2 um (limits)"
    assert data["uncertainty_source"] == "stated"
    assert measured_data(None) is quantity_data(None) is bare_data(None, "m") is None
